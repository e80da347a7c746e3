"""The reading's version, apart so that a page can ask for it without loading what is compiled."""

# 2: feet and eyes go in on a lane that dried. 3: earlier sessions of the student are fitted along,
# and the coach's own reading error counts where it was told. 4: hits are worth what the computed
# table of the pins says, options are measured on throws that no search has seen and ranked by their
# chance, and deck exit and leave help to tell the entry angle. 5: options start from where the
# readings say the usual throw hits and are ranked by chance and pocket together, a lane dries in
# its track, a coach's word on a shot counts, and what moved the hit is told. 6: lines are
# looked for more closely, of what is free the option that is worth more comes first, and intervals
# hold where columns were not read. 7: the readings of a shot are weighed by their own errors, wild
# ones less; the deck exit follows the head pin as this session's hits say; changes may come slowly;
# lanes to try an option on are drawn evenly. 8: hits that deflect ask for no ball that reads later
# where the lane made all of them hook later.
READING_VERSION = "8"
