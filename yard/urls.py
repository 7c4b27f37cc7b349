"""Every address of the site. Whatever belongs to a yard lies under the yard's own name."""

from django.contrib import admin
from django.contrib.auth import views as auth
from django.http import HttpRequest, HttpResponse
from django.urls import include, path
from django.views.decorators.http import require_safe

from yard.pages import air, norms, schemes
from yard.pages.home import LogIn, home


@require_safe
def healthz(request: HttpRequest) -> HttpResponse:
    """Say that the web process answers. It asks neither database nor worker: `manage.py doctor` does."""
    return HttpResponse("ok\n", content_type="text/plain")


urlpatterns = [
    path("healthz", healthz, name="healthz"),
    path("", home, name="home"),
    path("login/", LogIn.as_view(), name="login"),
    path("logout/", auth.LogoutView.as_view(), name="logout"),
    path("admin/", admin.site.urls),
    path("<slug:yard>/schemes/", schemes.schemes, name="schemes"),
    path("<slug:yard>/schemes/<int:scheme>/", schemes.scheme, name="scheme"),
    path("<slug:yard>/schemes/stage/<int:stage>/", schemes.stage, name="scheme_stage"),
    path("<slug:yard>/norms/", norms.norms, name="norms"),
    path("<slug:yard>/norms/drying/<slug:regime>/", norms.regime, name="regime_norm"),
    path("<slug:yard>/norms/sheet/", norms.new_sheet, name="new_sheet"),
    path("<slug:yard>/norms/sheet/<int:sheet>/", norms.sheet, name="sheet"),
    path("<slug:yard>/air/", air.air, name="air"),
    path("<slug:yard>/", include("scheduling.urls")),
]
