"""The service as a web application: put together, started, stopped, and its errors mapped, once.

Takes settings, gives an ASGI application that listens to this machine only. The clock and the
maker of ids are read here and handed down.
"""

from __future__ import annotations

import json
import logging
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from datetime import UTC, datetime
from ipaddress import ip_address
from importlib.metadata import version
from pathlib import Path
from typing import Any
from urllib.parse import quote

import uuid_utils
from fastapi import FastAPI, Request, Response
from fastapi.exceptions import RequestValidationError
from fastapi.openapi.utils import get_openapi
from fastapi.responses import HTMLResponse
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from plafond import errors
from plafond.inference.crosscheck import EngineProcess
from plafond.rulebook import Rulebook, find_release, load_release
from plafond.settings import Settings, read_settings
from plafond.storage import Archive, open_archive
from plafond.views import lookups, rest
from plafond.views.catalogue import release_card
from plafond.views.desk import Desk
from plafond.views.exchange import PROBLEM
from plafond.views.home import POLICY, home_page, problem_page
from plafond.views.live import LiveReleases
from plafond.views.openapi import schemas
