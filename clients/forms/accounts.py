"""Logging in, one's own account, a new password."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib.auth.forms import AuthenticationForm, PasswordChangeForm, SetPasswordForm
from django.core.exceptions import ValidationError

from clients.models import User

LOGIN_ATTRS = {"autocapitalize": "none", "autocorrect": "off", "spellcheck": "false"}
# How a new password must be, in one sentence; the rules themselves stand in the settings.
RULE = "At least 8 letters or figures, and none that is easy to guess."


class LogInForm(AuthenticationForm):
    username = forms.CharField(
        label="E-mail or user name",
        max_length=254,
        widget=forms.TextInput(attrs={**LOGIN_ATTRS, "autocomplete": "username"}),
    )
    error_messages = {
        "invalid_login": (
            "This e-mail or user name and this password do not fit together, or the account is "
            "closed. A minor's account is closed while no guardian agrees to it."
        ),
        "inactive": "This account is closed.",
    }


class AccountForm(forms.ModelForm):
    """One's own name and log-in e-mail."""

    class Meta:
        model = User
        fields = ["name", "email"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["name"].widget.attrs["autocomplete"] = "name"
        self.fields["email"].widget.attrs["autocomplete"] = "email"
        # Only somebody with a user name can do without; a guardian hears of the ward by e-mail.
        self.fields["email"].required = not self.instance.username or self.instance.wards.exists()

    def clean_email(self) -> str | None:
        email = (self.cleaned_data["email"] or "").lower() or None
        if email and User.objects.filter(email=email).exclude(pk=self.instance.pk).exists():
            raise ValidationError("Another account has this e-mail.")
        return email


class _PlainHelp:
    """The rule for a password in one sentence instead of a list."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["new_password1"].help_text = RULE
        self.fields["new_password2"].label = "The new password again"
        self.fields["new_password2"].help_text = ""


class ChangePasswordForm(_PlainHelp, PasswordChangeForm):
    """The old password, and a new one twice."""


class NewPasswordForm(_PlainHelp, SetPasswordForm):
    """A new password, twice, by a link."""
