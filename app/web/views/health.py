"""What a machine that watches the server asks it."""

import time

from flask import Blueprint, Response, jsonify

from app.extensions import db
from app.services.backups import FOLDER
from app.services.health import check_health
from app.web.access import Who, open_to
from app.web.context import current_settings

bp = Blueprint("health", __name__)

UNAVAILABLE = 503


@bp.get("/healthz")
@open_to(Who.EVERYONE)
def index() -> Response:
    """Say whether requests can be answered, and what may soon keep them from being."""
    instance = current_settings().instance
    health = check_health(db.engine, instance, instance / FOLDER, time.time())
    said = {
        "status": "ok" if health.is_well else "failed",
        "database": "ok" if health.database else "away",
        "schema": "ok" if health.schema else "wrong" if health.database else "unknown",
        "wal_bytes": health.wal_bytes,
        "free_bytes": health.free_bytes,
        "disk": "nearly full" if health.is_short_of_room else "ok",
        "backup_age_s": None if health.backup_age_s is None else round(health.backup_age_s),
    }
    answer = jsonify(said)
    answer.status_code = 200 if health.is_well else UNAVAILABLE
    answer.headers["Cache-Control"] = "no-store"
    return answer
