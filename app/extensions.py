"""Extensions that belong to every application, made once and set up by create_app."""

from flask_sqlalchemy_lite import SQLAlchemy
from flask_wtf.csrf import CSRFProtect

db = SQLAlchemy()
csrf = CSRFProtect()
