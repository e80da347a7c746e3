"""The reading's version, apart so that a page can ask for it without loading what is compiled."""

# 2: feet and eyes go in on a lane that dried. 3: earlier sessions of the student are fitted along,
# and the coach's own reading error counts where it was told.
READING_VERSION = "3"
