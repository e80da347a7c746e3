"""Users and their roles, clients and their guardians."""

from __future__ import annotations

import hashlib
import secrets
from functools import cached_property

from django.contrib.auth.models import AbstractBaseUser, BaseUserManager
from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator, RegexValidator
from django.db import models
from django.utils import timezone

from clients import access


class Role(models.TextChoices):
    OWNER = "owner", "owner"
    COACH = "coach", "coach"
    OPERATOR = "operator", "shop operator"
    STUDENT = "student", "student"
    GUARDIAN = "guardian", "guardian"


class UserManager(BaseUserManager.from_queryset(access.UserQuerySet)):
    def create_user(
        self,
        *,
        name: str,
        email: str | None = None,
        username: str | None = None,
        password: str | None = None,
        roles: list[str] | tuple[str, ...] = (),
    ) -> User:
        """Make a user who logs in by e-mail, or by user name where there is no e-mail."""
        user = self.model(
            name=name,
            email=email.lower() if email else None,
            username=username.lower() if username else None,
        )
        user.set_password(password)
        user.full_clean()
        user.save()
        for role in roles:
            RoleGrant.objects.create(user=user, role=role)
        return user

    def get_by_natural_key(self, login: str) -> User:
        return self.get(models.Q(email=login.lower()) | models.Q(username=login.lower()))


class User(AbstractBaseUser):
    """Somebody who logs in: by e-mail, or by user name (a ward without an e-mail)."""

    name = models.CharField(max_length=80)
    # Both are kept in lower case, so that unique means unique.
    email = models.EmailField("e-mail", null=True, blank=True, unique=True)
    username = models.CharField(
        "user name",
        max_length=40,
        null=True,
        blank=True,
        unique=True,
        # No "@", so that a user name never passes for an e-mail.
        validators=[RegexValidator(r"^[a-z0-9._-]{3,40}$", "Use 3 to 40 of a-z, 0-9, dot, dash.")],
    )
    is_active = models.BooleanField(default=True)
    joined_at = models.DateTimeField(default=timezone.now, editable=False)

    objects = UserManager()

    USERNAME_FIELD = "email"
    EMAIL_FIELD = "email"
    REQUIRED_FIELDS = ["name"]

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(email__isnull=False) | models.Q(username__isnull=False),
                name="user_has_a_login",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def clean(self) -> None:
        self.email = self.email.lower() if self.email else None
        self.username = self.username.lower() if self.username else None
        if not (self.email or self.username):
            raise ValidationError("Give an e-mail, or a user name where there is none.")

    @cached_property
    def roles(self) -> frozenset[str]:
        return frozenset(self.grants.values_list("role", flat=True))

    @property
    def is_owner(self) -> bool:
        return Role.OWNER in self.roles

    @property
    def is_coach(self) -> bool:
        """The owner may coach whomever they like, so an owner is a coach too."""
        return Role.COACH in self.roles or self.is_owner

    @property
    def is_operator(self) -> bool:
        return Role.OPERATOR in self.roles

    @property
    def is_staff_member(self) -> bool:
        """Works here: coach, operator or owner, against students and guardians."""
        return self.is_coach or self.is_operator

    @property
    def login(self) -> str:
        return self.email or self.username or ""


class RoleGrant(models.Model):
    """One of a user's roles: coach and operator can be one person."""

    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="grants")
    role = models.CharField(max_length=10, choices=Role)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["user", "role"], name="grant_once")]

    def __str__(self) -> str:
        return f"{self.user}: {self.get_role_display()}"


def between(low: float, high: float, unit: str) -> list:
    """Return the two validators of a measured field, with one message that names the range."""
    message = f"Expected {low:g} to {high:g} {unit}."
    return [MinValueValidator(low, message), MaxValueValidator(high, message)]


class Client(models.Model):
    """A person who is coached, or whose gear the shop keeps. Everything measured may be unknown."""

    class Hand(models.TextChoices):
        RIGHT = "right", "right"
        LEFT = "left", "left"

    class Hook(models.TextChoices):
        USUAL = "usual", "hooks as usual for the hand"
        BACKUP = "backup", "back-up ball"

    class Style(models.TextChoices):
        ONE = "one", "one hand"
        TWO = "two", "two hands"

    name = models.CharField(max_length=80)
    coach = models.ForeignKey(
        User, null=True, blank=True, on_delete=models.PROTECT, related_name="coached"
    )
    user = models.OneToOneField(
        User, null=True, blank=True, on_delete=models.SET_NULL, related_name="client"
    )
    is_minor = models.BooleanField(
        "minor", default=False, help_text="No account opens before a guardian has agreed."
    )

    hand = models.CharField(max_length=5, choices=Hand, default=Hand.RIGHT)
    hook = models.CharField("hook side", max_length=6, choices=Hook, default=Hook.USUAL)
    style = models.CharField(max_length=3, choices=Style, default=Style.ONE)
    speed_mph = models.FloatField(
        "speed, mph", null=True, blank=True, validators=between(8, 30, "mph")
    )
    rev_rpm = models.FloatField(
        "rev rate, rpm", null=True, blank=True, validators=between(0, 800, "rpm")
    )
    rotation_deg = models.FloatField(
        "axis rotation, deg", null=True, blank=True, validators=between(0, 120, "deg")
    )
    tilt_deg = models.FloatField(
        "axis tilt, deg", null=True, blank=True, validators=between(-20, 60, "deg")
    )
    pap_over_in = models.FloatField(
        "PAP over, in", null=True, blank=True, validators=between(0, 8, "in")
    )
    pap_up_in = models.FloatField(
        "PAP up, in",
        null=True,
        blank=True,
        validators=between(-4, 4, "in"),
        help_text="Below the midline is negative.",
    )
    coach_notes = models.TextField(
        "notes of the coach", blank=True, help_text="The student does not see these."
    )
    created_at = models.DateTimeField(default=timezone.now, editable=False)

    objects = access.ClientQuerySet.as_manager()

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name

    @property
    def has_account_consent(self) -> bool:
        """Whether a minor's guardian has agreed, and not taken it back."""
        return Consent.objects.filter(
            guardianship__client=self, kind=Consent.Kind.ACCOUNT, revoked_at=None
        ).exists()

    @property
    def may_have_account(self) -> bool:
        return not self.is_minor or self.has_account_consent


class Guardianship(models.Model):
    """One guardian of one client; a client may have several, a guardian several wards."""

    guardian = models.ForeignKey(User, on_delete=models.CASCADE, related_name="wards")
    client = models.ForeignKey(Client, on_delete=models.CASCADE, related_name="guardianships")
    since = models.DateTimeField(default=timezone.now, editable=False)

    objects = access.GuardianshipQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["guardian", "client"], name="guardian_of_client_once")
        ]

    def __str__(self) -> str:
        return f"{self.guardian} for {self.client}"


class Consent(models.Model):
    """What a guardian agreed to, in which words, and until when. Taken back, the row stays."""

    class Kind(models.TextChoices):
        ACCOUNT = "account", "an account of the student's own"
        CLIPS = "clips", "video clips of the student"

    guardianship = models.ForeignKey(
        Guardianship, on_delete=models.CASCADE, related_name="consents"
    )
    kind = models.CharField(max_length=8, choices=Kind)
    wording = models.TextField()
    given_at = models.DateTimeField(default=timezone.now)
    revoked_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["guardianship", "kind"],
                condition=models.Q(revoked_at=None),
                name="consent_in_force_once",
            )
        ]

    def __str__(self) -> str:
        return f"{self.guardianship}: {self.get_kind_display()}"


class Invitation(models.Model):
    """A link that opens one account. Only the hash of its token is kept."""

    name = models.CharField(max_length=80)
    email = models.EmailField(blank=True)
    role = models.CharField(max_length=10, choices=Role)
    client = models.ForeignKey(
        Client, null=True, blank=True, on_delete=models.CASCADE, related_name="invitations"
    )
    token_hash = models.CharField(max_length=64, unique=True, editable=False)
    created_by = models.ForeignKey(User, on_delete=models.CASCADE, related_name="+")
    created_at = models.DateTimeField(default=timezone.now, editable=False)
    expires_at = models.DateTimeField()
    accepted_at = models.DateTimeField(null=True, blank=True)
    accepted_by = models.ForeignKey(
        User, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    revoked_at = models.DateTimeField(null=True, blank=True)

    objects = access.InvitationQuerySet.as_manager()

    class Meta:
        ordering = ["-created_at"]

    def __str__(self) -> str:
        return f"{self.name} ({self.get_role_display()})"

    @staticmethod
    def new_token() -> str:
        return secrets.token_urlsafe(32)

    @staticmethod
    def hash_of(token: str) -> str:
        return hashlib.sha256(token.encode()).hexdigest()

    @property
    def is_open(self) -> bool:
        return (
            self.accepted_at is None
            and self.revoked_at is None
            and timezone.now() < self.expires_at
        )
