"""Whether there is a shop to forward to; nothing of SQLAlchemy is loaded where there is none."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rig.store.forwarding import Forwarder

URL_VARIABLE = "TEACHRIG_SHOP_URL"
URL_FILE = "shop.url"
"""The name of a file beside the record that holds the URL instead; nobody else may read it."""


def forwarder_of(store: Path) -> Forwarder | None:
    """A forwarder that has yet to begin; None where there is no shop.

    Raises:
        ShopRefused: when the shop is named wrongly, or in a file that others may read.

    """
    url = url_of(store.parent)
    if url is None:
        return None
    from rig.store.forwarding import Forwarder

    return Forwarder(store, url)


def url_of(data: Path) -> str | None:
    """The URL of the shop's database; None where there is no shop. Raises ShopRefused."""
    if not os.environ.get(URL_VARIABLE) and not os.path.lexists(data / URL_FILE):
        return None
    from rig.store.shop import shop_url

    return shop_url(data)
