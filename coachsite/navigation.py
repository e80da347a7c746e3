"""What stands in the menu, by role."""

from __future__ import annotations

from django.http import HttpRequest


def navigation(request: HttpRequest) -> dict[str, list[tuple[str, str]]]:
    """Return the menu as (URL name, label) for the user, for every template."""
    user = getattr(request, "user", None)
    if user is None or not user.is_authenticated:
        return {"menu": []}
    menu = []
    if user.is_staff_member:
        menu.append(("today", "Today"))
    if user.is_coach:
        menu += [("clients:list", "Clients"), ("lanes:sessions", "Sessions")]
        menu.append(("lanes:ledger", "Ledger"))
    if user.is_staff_member:
        menu += [("clients:gear", "Arsenal"), ("clients:shop", "Shop tickets")]
        menu.append(("clients:stock", "Stock"))
        menu.append(("lanes:surface_plan", "Surface plan"))
        menu += [("lanes:patterns", "Pattern sheets")]
        menu += [("lanes:try_shot", "Try a shot"), ("lanes:centres", "Centres")]
    if user.is_coach:
        menu.append(("clients:people", "People"))
    if {"student", "guardian"} & user.roles:
        menu.append(("portal", "Portal"))
    if "guardian" in user.roles:
        menu.append(("clients:wards", "Wards"))
    return {"menu": menu}
