"""Feeds: where headers stand in a bed and which laterals leave them, with exact lengths."""

from optimizer.feeds.bypass import Bypass, bypass_finder
from optimizer.feeds.feed import Feed, FeedError, FeedTask, HeaderVertex, LateralShape, LinePart, build_feed
from optimizer.feeds.places import HeaderPlace, header_places

__all__ = [
    "Bypass",
    "Feed",
    "FeedError",
    "FeedTask",
    "HeaderPlace",
    "HeaderVertex",
    "LateralShape",
    "LinePart",
    "build_feed",
    "bypass_finder",
    "header_places",
]
