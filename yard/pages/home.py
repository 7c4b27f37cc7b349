"""The root: everybody comes to their own side."""

from typing import Any

from django.contrib.auth.decorators import login_required
from django.contrib.auth.views import LoginView
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_safe

from yard.models import Role, User
from yard.roles import memberships_of

OWN_SIDE = {Role.MANAGER: "wall", Role.CREW: "today", Role.OFFICE: "desk"}
"""The page a role comes to first, by its name among the addresses."""


class LogIn(LoginView):
    """The one log-in page. A part of a page that is sent here, its session over, makes the whole page new."""

    template_name = "yard/login.html"

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        """Answer, and tell a page that asked for a part of itself to start anew."""
        response = super().dispatch(request, *args, **kwargs)
        if request.headers.get("HX-Request") == "true":
            response["HX-Refresh"] = "true"
        return response


@require_safe
@login_required
def home(request: HttpRequest) -> HttpResponse:
    """Go to the user's side; with several yards, ask which; with none, say so."""
    user = request.user
    found = memberships_of(user) if isinstance(user, User) else []
    doors = [(one.yard.name, reverse(OWN_SIDE[Role(one.role)], args=[one.yard.slug])) for one in found]
    if len(doors) == 1:
        return redirect(doors[0][1])
    return render(request, "yard/home.html", {"doors": doors})
