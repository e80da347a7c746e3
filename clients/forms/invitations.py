"""Inviting somebody, and opening an account by an invitation."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib.auth.forms import SetPasswordMixin
from django.core.exceptions import ValidationError

from clients import invitations
from clients.forms.accounts import LOGIN_ATTRS, RULE
from clients.models import Client, Invitation, Role, User


class InviteForm(forms.Form):
    """Who is invited, as what, and around which client."""

    role = forms.ChoiceField(label="As", widget=forms.RadioSelect)
    client = forms.ModelChoiceField(
        Client.objects.none(),
        label="For which client",
        required=False,
        empty_label="no client",
        help_text="For students and guardians.",
    )
    name = forms.CharField(label="Name", max_length=80)
    email = forms.EmailField(
        label="E-mail",
        required=False,
        help_text="May stay empty: you get a link to show or send yourself.",
    )

    def __init__(self, *args: Any, by: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["role"].choices = [
            (role.value, role.label) for role in invitations.roles_open_to(by)
        ]
        self.fields["client"].queryset = Client.objects.editable_by(by)
        if not by.is_owner:
            self.fields["client"].required = True
            self.fields["client"].empty_label = "choose a client"

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        role, client = data.get("role"), data.get("client")
        if role not in (Role.STUDENT, Role.GUARDIAN):
            data["client"] = None
        elif "client" not in self.errors:
            problem = invitations.problem_with(role, client)
            if problem:
                self.add_error("client", problem)
        return data


class JoinForm(SetPasswordMixin, forms.Form):
    """What a new account needs: a name, a log-in, a password."""

    name = forms.CharField(
        label="Your name", max_length=80, widget=forms.TextInput(attrs={"autocomplete": "name"})
    )
    email = forms.EmailField(
        label="E-mail", widget=forms.EmailInput(attrs={"autocomplete": "username"})
    )
    username = forms.CharField(
        label="User name",
        required=False,
        max_length=40,
        validators=User._meta.get_field("username").validators,
        widget=forms.TextInput(attrs={**LOGIN_ATTRS, "autocomplete": "username"}),
        help_text="Only without an e-mail: 3 to 40 small letters, figures, dots or dashes.",
    )
    password1, password2 = SetPasswordMixin.create_password_fields(
        label1="Choose a password", label2="The same password again"
    )

    def __init__(self, *args: Any, invitation: Invitation, **kwargs: Any) -> None:
        kwargs["initial"] = {"name": invitation.name, "email": invitation.email}
        super().__init__(*args, **kwargs)
        self.fields["password1"].help_text = RULE
        self.fields["password2"].help_text = ""
        if invitation.email:
            # The invitation is for this address; whoever has another is invited to that.
            self.fields["email"].disabled = True
        if invitation.role == Role.STUDENT and not invitation.email:
            self.fields["email"].required = False
            self.fields["email"].help_text = "Or choose a user name below."
        else:
            del self.fields["username"]

    def clean_email(self) -> str:
        email = self.cleaned_data["email"].lower()
        if email and User.objects.filter(email=email).exists():
            raise ValidationError(
                "There is an account with this e-mail. Log in, then open this link again."
            )
        return email

    def clean_username(self) -> str:
        username = self.cleaned_data["username"]
        if username and User.objects.filter(username=username).exists():
            raise ValidationError("Somebody has this user name; choose another.")
        return username

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if "username" in self.fields:
            if data.get("email"):
                data["username"] = ""  # one log-in is enough
            elif not data.get("username") and not {"email", "username"} & self.errors.keys():
                self.add_error("username", "Choose a user name, or give an e-mail.")
        self.validate_passwords("password1", "password2")
        self.validate_password_for_user(
            User(name=data.get("name", ""), email=data.get("email") or None), "password2"
        )
        return data
