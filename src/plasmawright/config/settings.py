"""Django's settings. What differs between installations comes from the data folder and from four variables.

``PLASMAWRIGHT_DATA`` names the data folder, ``DATABASE_URL`` a database other than the SQLite file in it,
``PLASMAWRIGHT_TIME_ZONE`` a zone other than the machine's, and ``PLASMAWRIGHT_HOSTS`` the names, with commas between,
under which this machine may be addressed by others.
"""

import os

import dj_database_url
from csp.constants import NONE, SELF

from plasmawright.config.time_zone import own_time_zone
from plasmawright.records.data_folder import data_folder, secret_key

SECRET_KEY = secret_key()
DEBUG = False
ALLOWED_HOSTS = ["127.0.0.1", "localhost", "[::1]", *filter(None, os.environ.get("PLASMAWRIGHT_HOSTS", "").split(","))]

INSTALLED_APPS = [
    "plasmawright.records",
    "plasmawright.web",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "allauth",
    "allauth.account",
    "csp",
    "django_htmx",
    "django_tasks_db",
]
MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "allauth.account.middleware.AccountMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "plasmawright.web.full_disk.FullDisk",
]
ROOT_URLCONF = "plasmawright.config.urls"
WSGI_APPLICATION = "plasmawright.config.wsgi.application"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
            ]
        },
    }
]

SQLITE = {
    "ENGINE": "django.db.backends.sqlite3",
    "NAME": data_folder() / "records.sqlite3",
    "OPTIONS": {
        "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL; PRAGMA foreign_keys=ON;",
        "transaction_mode": "IMMEDIATE",
        "timeout": 20,
    },
    "TEST": {"NAME": data_folder() / "test.sqlite3"},
}
NAMED_DATABASE = os.environ.get("DATABASE_URL")
DATABASES = {
    "default": dj_database_url.parse(NAMED_DATABASE, conn_max_age=60, conn_health_checks=True)
    if NAMED_DATABASE
    else SQLITE
}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

AUTH_USER_MODEL = "records.Person"
AUTHENTICATION_BACKENDS = ["allauth.account.auth_backends.AuthenticationBackend"]
PASSWORD_HASHERS = ["django.contrib.auth.hashers.Argon2PasswordHasher"]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": f"django.contrib.auth.password_validation.{rule}"}
    for rule in ("UserAttributeSimilarityValidator", "MinimumLengthValidator", "CommonPasswordValidator")
]
LOGIN_URL = "account_login"
LOGIN_REDIRECT_URL = "today"
ACCOUNT_ADAPTER = "plasmawright.web.sign_in.ClosedDoor"
ACCOUNT_EMAIL_VERIFICATION = "none"
ACCOUNT_LOGIN_METHODS = {"username"}
ACCOUNT_LOGOUT_REDIRECT_URL = "account_login"
ACCOUNT_RATE_LIMITS = {"login": "30/m/ip", "login_failed": "10/m/ip,5/5m/key"}
ACCOUNT_SESSION_REMEMBER = False
ACCOUNT_SIGNUP_FIELDS = ["username*", "password1*"]
ACCOUNT_USER_MODEL_EMAIL_FIELD = None
EMAIL_BACKEND = "django.core.mail.backends.dummy.EmailBackend"

TASKS = {"default": {"BACKEND": "django_tasks_db.DatabaseBackend"}}

HTTPS = bool(os.environ.get("PLASMAWRIGHT_HTTPS"))  # set by `serve`; strict transport would bar a local name for good
SESSION_COOKIE_SECURE = HTTPS
CSRF_COOKIE_SECURE = HTTPS
SESSION_COOKIE_AGE = 12 * 60 * 60
SESSION_COOKIE_SAMESITE = "Strict"
CSRF_COOKIE_SAMESITE = "Strict"
CSRF_COOKIE_HTTPONLY = True
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF],
        "connect-src": [SELF],
        "worker-src": [SELF],
        "form-action": [SELF],
        "frame-ancestors": [NONE],
        "base-uri": [NONE],
    }
}

STATIC_URL = "static/"
WHITENOISE_USE_FINDERS = True  # served from where they are installed: nothing to collect before the first page

LANGUAGE_CODE = "en"
TIME_ZONE = own_time_zone()  # of pages and papers; what is kept is in UTC
USE_TZ = True

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "handlers": {"console": {"class": "logging.StreamHandler"}},
    "loggers": {"django": {"handlers": ["console"], "level": "ERROR", "propagate": False}},
}
