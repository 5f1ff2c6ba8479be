"""Settings of the tests: a data folder of their own, a fast hasher, files as they lie.

`TEST_DATABASE_URL` names a PostgreSQL server to run on; without it a SQLite file is used, because
two processes can't share a database in memory.
"""

import atexit
import os
import shutil
import tempfile

_OWN = {"DATABASE_URL", "REDIS_URL", "ALLOWED_HOSTS", "SECRET_KEY", "DEBUG", "TRUSTED_PROXY"}
for _name in _OWN:
    os.environ.pop(_name, None)
_FOLDER = tempfile.mkdtemp(prefix="layline-test-")
atexit.register(shutil.rmtree, _FOLDER, ignore_errors=True)
os.environ["DATA_DIR"] = _FOLDER
if os.environ.get("TEST_DATABASE_URL"):
    os.environ["DATABASE_URL"] = os.environ["TEST_DATABASE_URL"]
os.environ["SECRET_KEY"] = "of-the-tests-" + "0123456789abcdef" * 4

from .settings import *  # noqa: E402, F403  # the environment must stand first
from .settings import DATABASE, MIDDLEWARE, ON_SQLITE, STORAGES  # noqa: E402  # likewise

if ON_SQLITE:
    DATABASE["NAME"] = f"{_FOLDER}/layline.sqlite3"
    DATABASE["TEST"] = {"NAME": f"{_FOLDER}/test.sqlite3"}
    # A test need not outlive a power cut.
    DATABASE["OPTIONS"]["init_command"] += "PRAGMA synchronous=OFF;"
else:
    DATABASE["TEST"] = {"NAME": f"test_layline_{os.getpid()}"}
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
MIDDLEWARE = [name for name in MIDDLEWARE if "whitenoise" not in name]
STORAGES = {
    **STORAGES,
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
ALLOWED_HOSTS = ["localhost", "127.0.0.1", "[::1]", "testserver"]
COMPILED_QUESTIONS_CHECKED = True
