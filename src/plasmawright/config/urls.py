"""Every address of this house."""

from allauth.account import views as account
from django.urls import path
from django.views.generic import RedirectView

from plasmawright.web import paper_views, plan_views, views

urlpatterns = [
    path("", RedirectView.as_view(pattern_name="plan"), name="home"),
    path("plan/", plan_views.new_plan, name="plan"),
    path("plan/example/", plan_views.example_plan, name="plan_example"),
    path("plan/point/", plan_views.point, name="plan_point"),
    path("plan/intervals/", plan_views.intervals, name="plan_intervals"),
    path("plan/intervals/<slug:page>/<slug:ticket>/", plan_views.told, name="plan_told"),
    path("plan/save/", plan_views.save, name="plan_save"),
    path("plan/<int:plan_id>/", plan_views.saved, name="plan_saved"),
    path("plan/<int:plan_id>/from/", plan_views.plan_from, name="plan_from"),
    path("plan/<int:plan_id>/worksheet-<slug:paper>.pdf", paper_views.worksheet, name="plan_worksheet"),
    path("plan/<int:plan_id>/rack-card-<slug:paper>.pdf", paper_views.rack_card, name="plan_rack_card"),
    path("tube/", views.tube, name="tube"),
    path("sign-in/", account.login, name="account_login"),
    path("sign-out/", account.logout, name="account_logout"),
    path("sign-up/", account.signup, name="account_signup"),
    path("inactive/", account.account_inactive, name="account_inactive"),
]
