"""All settings in one file; each is read from the environment, with a default that works.

The defaults are the embedded setup: SQLite and a worker inside the web server's process.
`DATABASE_URL` and `REDIS_URL` switch to the served setup. No setting exists only in production.
"""

from datetime import timedelta
from ipaddress import ip_network
from pathlib import Path

from django.core.exceptions import ImproperlyConfigured

from server import framework, logs, oauth, openapi, postgresql, queues
from server.environment import env, rate, secret, with_password

BASE_DIR = Path(__file__).resolve().parent.parent
DATA_DIR = Path(env.str("HARDSTAND_DATA_DIR", default=str(BASE_DIR / ".data")))

# --- Who answers, and how safely -------------------------------------------------------------
DEBUG = env.bool("DEBUG", default=False)
EMBEDDED = "REDIS_URL" not in env.ENVIRON
DEVELOPMENT_KEY = "for-trial-on-one-machine-only-never-for-a-served-installation"
SECRET_KEY = secret("SECRET_KEY", DEVELOPMENT_KEY)
SECRET_KEY_FALLBACKS = [key for key in secret("SECRET_KEY_FALLBACKS").split(",") if key]
if not EMBEDDED and SECRET_KEY == DEVELOPMENT_KEY:
    raise ImproperlyConfigured("SECRET_KEY must be set when REDIS_URL is: see README.md")
# The machine itself is always allowed, because health checks come from there.
ALLOWED_HOSTS = [*env.list("ALLOWED_HOSTS", default=[]), "localhost", "127.0.0.1", "[::1]"]
CSRF_TRUSTED_ORIGINS = env.list("CSRF_TRUSTED_ORIGINS", default=[])
# True behind a proxy that removes the header from outside requests and sets it itself.
BEHIND_TLS_PROXY = env.bool("BEHIND_TLS_PROXY", default=False)
if BEHIND_TLS_PROXY:
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
    SECURE_HSTS_SECONDS = 31_536_000
    SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = SECURE_SSL_REDIRECT = True
    SECURE_REDIRECT_EXEMPT = [r"^health/"]  # requested from inside, without the proxy
# Only the domain's owner can decide whether its other names use TLS.
SILENCED_SYSTEM_CHECKS = ["security.W005", "security.W021"]

# --- Apps ------------------------------------------------------------------------------------
INSTALLED_APPS = [
    "django.contrib.admin",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "rest_framework",
    "drf_spectacular",
    "drf_spectacular_sidecar",
    "oauth2_provider",
    "server",
    "server.docs",
    "apps.jobs",
    "apps.common",
    "apps.http",
    "apps.events",
    "apps.accounts",
    "apps.groups",
    "apps.boats",
    "apps.catalogue",
    "apps.viewings",
    "apps.sellers",
    "apps.purchase",
    "apps.expenses",
    "apps.ownership",
    "apps.surveys",
    "apps.outcomes",
    "apps.appraisal",
    "apps.second_opinions",
    "apps.planning",
    "apps.records",
    "apps.reports",
    "apps.notifications",
    "apps.archives",
    "apps.pages",
]
MIDDLEWARE = [
    "apps.http.middleware.request_ids.RequestIds",
    "apps.http.middleware.policy.ContentPolicy",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "apps.http.middleware.turns.OneTurnEach",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "apps.http.middleware.database.DatabaseAway",
]
ROOT_URLCONF = "server.urls"
WSGI_APPLICATION = "server.wsgi.application"
APPEND_SLASH = False
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
STATIC_URL = "/static/"
STATIC_ROOT = DATA_DIR / "static"
STATIC_ROOT.mkdir(parents=True, exist_ok=True)
WHITENOISE_USE_FINDERS = True
USE_TZ = True
TIME_ZONE = "UTC"
LANGUAGE_CODE = "en-gb"
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

# --- The web server --------------------------------------------------------------------------
# Requests that one process works on at a time, and those that may wait besides, for fresh results.
# Beyond that, a request that asks to wait is answered at once.
REQUESTS_AT_ONCE = env.int("REQUESTS_AT_ONCE", default=8)
MOST_WAITING = env.int("MOST_WAITING", default=400)

# --- Database and cache ----------------------------------------------------------------------
DATABASES = {
    "default": env.db("DATABASE_URL", default=f"sqlite:///{DATA_DIR / 'hardstand.sqlite3'}")
}
_database = DATABASES["default"]
if _database["ENGINE"].endswith("sqlite3"):
    DATA_DIR.mkdir(parents=True, exist_ok=True)
    _database["ENGINE"] = "server.sqlite3"
    # Tests that run side by side would look for a file: they know SQLite by Django's name only.
    _database["TEST"] = {"NAME": ":memory:"}
    # WAL alone makes write conflicts worse; immediate transactions make writers queue.
    _database["OPTIONS"] = {
        "transaction_mode": "IMMEDIATE",
        "timeout": 20,
        # FULL: what was acknowledged outlives a power cut. tests/bench/bench_commits.py: its cost.
        "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL;",
    }
else:
    _database["ENGINE"] = "server.postgresql"
    # A password that the address does not have.
    _database["PASSWORD"] = _database["PASSWORD"] or secret("POSTGRES_PASSWORD")
    # Pooling and persistent connections exclude each other.
    _database["CONN_MAX_AGE"] = 0
    # Options of the address, such as sslmode, stay.
    _database["OPTIONS"] = {
        **_database.get("OPTIONS", {}),
        **postgresql.options(most_connections=env.int("DATABASE_POOL", default=8)),
    }

REDIS_URL = with_password(env.str("REDIS_URL", default=""), secret("REDIS_PASSWORD"))
CACHES = {
    "default": (
        {
            "BACKEND": "django.core.cache.backends.locmem.LocMemCache",
            "OPTIONS": {"MAX_ENTRIES": 100_000},  # with fewer, counters of rate limits are evicted
        }
        if EMBEDDED
        else {
            "BACKEND": "django.core.cache.backends.redis.RedisCache",
            "LOCATION": REDIS_URL,
            "KEY_PREFIX": "hardstand",
            "OPTIONS": {"socket_timeout": 2, "socket_connect_timeout": 2},
        }
    )
}

# --- People ----------------------------------------------------------------------------------
AUTH_USER_MODEL = "accounts.Person"
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
    "apps.accounts.secrets.SecretHasher",  # for programs' secrets only
]
AUTH_PASSWORD_VALIDATORS = [
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        "OPTIONS": {"min_length": 10},
    },
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
]
SESSION_LIFETIME = timedelta(days=env.int("SESSION_DAYS", default=30))
# Whether its people are invented, and may be signed in by a link without a password.
DEMO = env.bool("DEMO", default=False)
INVITATION_LIFETIME = timedelta(days=env.int("INVITATION_DAYS", default=14))

LOGIN_URL = "oauth2_provider:sign-in"
CSRF_FAILURE_VIEW = "apps.pages.base.form_refused"
SESSION_EXPIRE_AT_BROWSER_CLOSE = True

# --- Other programs --------------------------------------------------------------------------
OAUTH2_PROVIDER_APPLICATION_MODEL = "accounts.Program"
OAUTH2_PROVIDER = oauth.SETTINGS

# --- The API ---------------------------------------------------------------------------------
REST_FRAMEWORK = framework.SETTINGS
DATA_UPLOAD_MAX_MEMORY_SIZE = 8 * 1024 * 1024  # a batch of 200 submissions with notes fits

# Rate limits as quota/seconds; a quota of 0 means no limit. Sign-in rates count failures only.
RATES = {
    name: rate(name, default)
    for name, default in {
        "person": "600/60",
        "client": "600/60",
        "address": "120/60",
        "sign_in": "10/900",
        "sign_in_address": "50/900",
        "sign_in_account": "100/900",
        "oauth_token": "60/60",
    }.items()
}


# --- Change feed and webhooks ----------------------------------------------------------------
# How long cursors of the change feed stay valid and messages are kept.
CHANGES_KEPT = timedelta(days=env.int("CHANGES_KEPT_DAYS", default=90))
# Webhooks go to public addresses by HTTPS. In these networks of the operator they may also use
# plain HTTP and any port: 127.0.0.0/8 to try them on one machine.
WEBHOOK_OWN_NETWORKS = [ip_network(n) for n in env.list("WEBHOOK_OWN_NETWORKS", default=[])]
# For one attempt as a whole. Standard Webhooks says 15 to 30.
WEBHOOK_TIMEOUT_SECONDS = env.float("WEBHOOK_TIMEOUT_SECONDS", default=20)

# --- Photos and sounds -----------------------------------------------------------------------
# folder: in the data directory. s3: a private bucket of an S3-like store (needs
# requirements-s3.txt); without keys, those of the machine's role are used.
MEDIA_STORAGE = env.str("MEDIA_STORAGE", default="folder")
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
    # A job that runs again writes its file again.
    "media": (
        {
            "BACKEND": "storages.backends.s3.S3Storage",
            "OPTIONS": {
                "bucket_name": env.str("MEDIA_S3_BUCKET"),
                # An empty value counts as not set.
                "endpoint_url": env.str("MEDIA_S3_ENDPOINT", default="") or None,
                "region_name": env.str("MEDIA_S3_REGION", default="") or None,
                "access_key": env.str("MEDIA_S3_KEY", default="") or None,
                "secret_key": secret("MEDIA_S3_SECRET") or None,
                "location": env.str("MEDIA_S3_FOLDER", default=""),
                "default_acl": None,
                "file_overwrite": True,
            },
        }
        if MEDIA_STORAGE == "s3"
        else {
            "BACKEND": "django.core.files.storage.FileSystemStorage",
            "OPTIONS": {
                "location": DATA_DIR / "media",
                "allow_overwrite": True,
                "file_permissions_mode": 0o600,
                "directory_permissions_mode": 0o700,
            },
        }
    ),
}
PHOTO_LARGEST_BYTES = env.int("PHOTO_LARGEST_BYTES", default=20 * 1024 * 1024)
DOCUMENT_LARGEST_BYTES = env.int("DOCUMENT_LARGEST_BYTES", default=20 * 1024 * 1024)
SOUND_LARGEST_BYTES = env.int("SOUND_LARGEST_BYTES", default=10 * 1024 * 1024)
# How long files may be added after submitting: a phone may get its signal back days later.
MEDIA_OPEN_FOR = timedelta(days=env.int("MEDIA_OPEN_DAYS", default=7))
# A link to a picture is valid for at least this long and at most twice as long.
MEDIA_LINK_LIFETIME = timedelta(minutes=env.int("MEDIA_LINK_MINUTES", default=30))

# --- Archives --------------------------------------------------------------------------------
# How long an archive can be downloaded, and how long each link to it is valid.
EXPORT_KEPT = timedelta(days=env.int("EXPORT_KEPT_DAYS", default=7))
ARCHIVE_LINK_LIFETIME = timedelta(minutes=env.int("ARCHIVE_LINK_MINUTES", default=30))
ARCHIVE_LARGEST_BYTES = env.int("ARCHIVE_LARGEST_BYTES", default=1024 * 1024 * 1024)  # sent in

# --- Mail ------------------------------------------------------------------------------------
# Without a mail server, mails are written to a folder, where an operator can read them. With
# EMAIL_HOST they are sent; that server must add the DKIM signature that RFC 8058 requires.
EMAIL_HOST = env.str("EMAIL_HOST", default="")
EMAIL_BACKEND = env.str(
    "EMAIL_BACKEND",
    default=f"django.core.mail.backends.{'smtp' if EMAIL_HOST else 'filebased'}.EmailBackend",
)
EMAIL_FILE_PATH = DATA_DIR / "mail"
EMAIL_PORT = env.int("EMAIL_PORT", default=587)
EMAIL_HOST_USER = env.str("EMAIL_HOST_USER", default="")
EMAIL_HOST_PASSWORD = secret("EMAIL_HOST_PASSWORD")
EMAIL_USE_TLS = env.bool("EMAIL_USE_TLS", default=EMAIL_PORT == 587)
EMAIL_USE_SSL = env.bool("EMAIL_USE_SSL", default=EMAIL_PORT == 465)
EMAIL_TIMEOUT = env.float("EMAIL_TIMEOUT", default=20)  # seconds for each answer of the server
DEFAULT_FROM_EMAIL = env.str("DEFAULT_FROM_EMAIL", default="Hardstand <hardstand@localhost>")
# The service's address from outside; links in mails start with it.
PUBLIC_URL = env.str("PUBLIC_URL", default="http://127.0.0.1:8000").rstrip("/")
SPECTACULAR_SETTINGS = openapi.settings_for(PUBLIC_URL)

# --- Background jobs -------------------------------------------------------------------------
# The database records which results are stale; a message only makes their update quicker.
CELERY_BROKER_URL = REDIS_URL or "memory://localhost/"
CELERY_BROKER_TRANSPORT = None if EMBEDDED else "server.transport:Transport"
CELERY_BROKER_CONNECTION_MAX_RETRIES = None  # a broker that is away may be away for days
CELERY_TASK_IGNORE_RESULT = True
CELERY_TASK_ACKS_LATE = True
CELERY_TASK_REJECT_ON_WORKER_LOST = True
CELERY_TASK_ROUTES = queues.ROUTES
CELERY_TASK_DEFAULT_QUEUE = "results"
CELERY_BEAT_SCHEDULER = "server.signs:SigningScheduler"
CELERY_BEAT_MAX_LOOP_INTERVAL = 10  # so often it gives a sign of life
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_TASK_TIME_LIMIT = 300
CELERY_TASK_SOFT_TIME_LIMIT = 240
CELERY_WORKER_HIJACK_ROOT_LOGGER = False
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_TASK_SERIALIZER = "json"
CELERY_ACCEPT_CONTENT = ["json"]
CELERY_BROKER_TRANSPORT_OPTIONS = (
    {"polling_interval": 0.02}
    if EMBEDDED
    # A broker that hangs must not block the request; the sweep sends the message again.
    else {
        "visibility_timeout": 600,
        "socket_timeout": 2,
        "socket_connect_timeout": 2,
        "global_keyprefix": "hardstand:",
    }
)

# How long a worker may be silent before another worker takes over its list.
APPRAISAL_LEASE = timedelta(seconds=env.int("APPRAISAL_LEASE_SECONDS", default=60))
# How often the findings of a club's groups are pooled, if they agreed and something changed.
POOL_CLUBS_EVERY = timedelta(hours=env.float("POOL_CLUBS_HOURS", default=6))
# How often a club's statistics of surveys are computed, if something changed.
REFRESH_OUTCOMES_EVERY = timedelta(hours=env.float("REFRESH_OUTCOMES_HOURS", default=6))
SWEEP_SECONDS = env.float("SWEEP_SECONDS", default=3 if EMBEDDED else 15)

# How long a message, or a list whose inputs changed, may wait before /health/ready says so. Longer
# than a task may take.
LATE_AFTER = timedelta(minutes=env.float("LATE_AFTER_MINUTES", default=6))

# --- What can be watched ---------------------------------------------------------------------
# Whoever sends it as a bearer token may read /metrics. Without it nothing is counted.
METRICS_TOKEN = secret("METRICS_TOKEN")
if METRICS_TOKEN:
    MIDDLEWARE.insert(1, "server.metrics.Measured")

# --- Logging ---------------------------------------------------------------------------------
# plain: a line of text each. json: an object each, for programs that collect logs.
LOG_FORMAT = env.str("LOG_FORMAT", default="plain" if EMBEDDED else "json")
LOGGING = logs.configuration(LOG_FORMAT, env.str("LOG_LEVEL", default="INFO"), quiet=EMBEDDED)
