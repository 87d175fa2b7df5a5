"""Sources of readings: files that grow, serial lines, and what others add by an entry point."""

from forerun.running.sources.interface import Row, Source, SourceLost
from forerun.running.sources.registry import GROUP, source_of

__all__ = ["GROUP", "Row", "Source", "SourceLost", "source_of"]
