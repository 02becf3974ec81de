"""The one door to the library that reads map files."""

from __future__ import annotations

import warnings
from typing import Any

import pandas as pd
import pyogrio

from nightwater.findings import UserError

# A survey asks nothing of the network, whatever a file says of where its schema lies.
pyogrio.set_gdal_config_options({"GML_DOWNLOAD_WFS_SCHEMA": False})


def _refusal(name: str, what: str, problem: Exception) -> UserError:
    reason = " ".join(str(problem).split())[:160] or type(problem).__name__
    return UserError(f"{name} cannot be read as {what}: {reason}.")


def layer_names(source: Any, name: str, what: str) -> list[str]:
    """Names of a file's layers, in its order.

    Args:
        source: a path, or the file's bytes.
        name: the file's name, for messages.
        what: what it should be, as "a map layer".

    Raises:
        UserError: the file is not that.
    """
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return [str(found) for found in pyogrio.list_layers(source)[:, 0]]
    except Exception as problem:  # a broken file makes the library raise anything
        raise _refusal(name, what, problem) from None


def read_layer(
    source: Any, layer: str | int | None, name: str, what: str, **options: str
) -> pd.DataFrame:
    """One layer; with geometry it is a GeoDataFrame, and dates are the text that was written.

    Args:
        source: a path, or the file's bytes.
        layer: name or place of the layer.
        name: the file's name, for messages.
        what: what it should be, as "a map layer".
        options: of the format's driver.

    Raises:
        UserError: the file is not that, or broken.
    """
    try:
        with warnings.catch_warnings():
            # Measures and open rings are told by our own findings.
            warnings.simplefilter("ignore")
            frame: pd.DataFrame = pyogrio.read_dataframe(
                source, layer=layer, datetime_as_string=True, **options
            )
    except Exception as problem:  # a broken file makes the library raise anything
        raise _refusal(name, what, problem) from None
    names = list(map(str, frame.columns))
    twice = sorted({column for column in names if names.count(column) > 1})
    if twice:
        raise UserError(f"{name} has two columns named '{twice[0]}'. Rename one of them.")
    return frame
