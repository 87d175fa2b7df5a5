"""Readings that a broker passes on (MQTT): numbers, lines of text, or objects with headings."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from queue import Empty, SimpleQueue
from typing import Any

from forerun.core.errors import BadInput
from forerun.running.sources.interface import Row, SourceLost
from forerun.running.sources.line_format import LineFormat, line_format_from, plain_format

__all__ = ["MqttTopic", "mqtt_topic"]

_USUAL_PORT = 1883
_LARGEST = 4096  # bytes of a message
_MOST = 5000  # readings at a time
_PATIENCE = 3.0  # s
_OPTIONS = "topic, and channel (such as head_C) or format (a file)"


def mqtt_topic(address: str, options: Mapping[str, str]) -> MqttTopic:
    """Return the source for a topic.

    Args:
        address: host, or host and port of the broker.
        options: ``topic``, and ``channel`` or ``format`` for messages that are no objects.

    Raises:
        BadInput: other options, or none for the topic.
    """
    host, _, port = address.partition(":")
    given = dict(options)
    topic, channel, file = (given.pop(key, "") for key in ("topic", "channel", "format"))
    if given or not host or not topic or (channel and file) or (port and not port.isdigit()):
        raise BadInput("--from", f"mqtt:{address}", f"a host, then {_OPTIONS}")
    form = line_format_from(Path(file)) if file else plain_format(channel or "head_C")
    return MqttTopic(host, int(port) if port else _USUAL_PORT, topic, form)


class MqttTopic:
    """A topic that is listened to; what came while nobody listened is not asked for.

    Args:
        host: of the broker.
        port: on it.
        topic: with wild cards as MQTT has them.
        form: of messages that are no JSON objects.
    """

    by_hand = False

    def __init__(self, host: str, port: int, topic: str, form: LineFormat) -> None:
        self.name = f"mqtt {topic}"
        self._host, self._port, self._topic, self._form = host, port, topic, form
        self._client: Any = None
        self._came: SimpleQueue[bytes] = SimpleQueue()

    def open(self) -> None:
        """Connect to the broker and ask for the topic.

        Raises:
            SourceLost: it is not there.
            BadInput: the package for MQTT is not installed.
        """
        self.close()
        try:
            from paho.mqtt.client import Client  # noqa: PLC0415 -- an extra
            from paho.mqtt.enums import CallbackAPIVersion  # noqa: PLC0415
        except ImportError as problem:
            accepted = 'the extra "mqtt": pip install "forerun[mqtt]"'
            raise BadInput("--from", f"mqtt:{self._host}", accepted) from problem
        client = Client(CallbackAPIVersion.VERSION2, reconnect_on_failure=False)
        client.connect_timeout = _PATIENCE
        client.on_connect = lambda one, *_words: one.subscribe(self._topic)
        client.on_message = lambda _one, _data, message: self._came.put(bytes(message.payload))
        try:
            client.connect(self._host, self._port, keepalive=5)
        except OSError as problem:
            raise SourceLost(str(problem)) from problem
        client.loop_start()
        self._client = client

    def read(self) -> Sequence[Row]:
        """Return the messages that came.

        Raises:
            SourceLost: the broker is gone, and what it had sent has been read.
        """
        rows: list[Row] = []
        while len(rows) < _MOST:
            try:
                rows.append(self._row(self._came.get_nowait()))
            except Empty:
                break
        lost = self._client is None or (self._client.is_connected() is False and self._ended())
        if lost and not rows:
            self.close()
            raise SourceLost("no connection to the broker")
        return [row for row in rows if row]

    def close(self) -> None:
        """Leave the broker."""
        client, self._client = self._client, None
        if client is not None:
            client.disconnect()
            client.loop_stop()

    def _ended(self) -> bool:
        """Return whether the thread that listens has given up, not only not begun yet."""
        thread = getattr(self._client, "_thread", None)
        return thread is None or not thread.is_alive()

    def _row(self, message: bytes) -> Row:
        if len(message) > _LARGEST:
            return {"remark": f"message of {len(message)} bytes not understood"}
        text = message.decode("utf-8", "replace")
        if text.lstrip().startswith("{"):
            try:
                found = json.loads(text)
            except (ValueError, RecursionError):
                return {"remark": f"message not understood: {text[:200]}"}
            return {str(key): value for key, value in found.items()}
        return self._form.row(text)
