"""Every address of this house."""

from allauth.account import views as account
from django.urls import path
from django.views.generic import RedirectView

from plasmawright.web import views

urlpatterns = [
    path("", RedirectView.as_view(pattern_name="tube"), name="home"),
    path("tube/", views.tube, name="tube"),
    path("sign-in/", account.login, name="account_login"),
    path("sign-out/", account.logout, name="account_logout"),
    path("sign-up/", account.signup, name="account_signup"),
    path("inactive/", account.account_inactive, name="account_inactive"),
]
