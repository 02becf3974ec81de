"""The page."""

from fastapi import APIRouter

router = APIRouter(prefix="/morning")
