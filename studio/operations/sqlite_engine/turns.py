"""Waiting for SQLite's lock: whoever meets it free has it, but nobody is passed over until their patience ends.

SQLite keeps no line. Between a writer's commit and its next transaction the lock is free for a moment only, and on a
busy machine those who sleep may wake up too late for it, again and again. To hand it over each time would cost
everybody the time that the next one takes to wake up. So, as with locks in operating systems, only whoever has waited
too long gets it handed over.
"""

import fcntl
import os
import random
import sqlite3
import time
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from django.db import OperationalError

Result = TypeVar("Result")
# Seconds between two looks, drawn between these so that those who wait do not march in step.
WAITING, NEXT = (0.003, 0.006), (0.0005, 0.001)
TOO_LONG = 0.25  # of one's patience


def in_turn(act: Callable[[], Result], database: Path, patience: float) -> Result:
    """Act as soon as the lock is free; after a share of one's patience (in seconds), before everybody else.

    Who has waited too long holds a lock of their own (`flock` of a file beside the database, which the system lets go
    when its holder dies), and the others look at it first; never one of the database's file, whose locks are lost when
    any handle of it is closed. It is for fairness alone: SQLite has the last word.
    """
    line = os.open(f"{database}.turn", os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
    began = time.monotonic()
    try:
        while True:
            waited = time.monotonic() - began
            is_next = waited >= TOO_LONG * patience
            if is_next and _has(line, fcntl.LOCK_EX):
                return with_patience(act, patience - waited, NEXT)
            if waited > patience or _has(line, fcntl.LOCK_SH):
                try:
                    return act()
                except (OperationalError, sqlite3.OperationalError) as problem:
                    if not is_locked(problem) or waited > patience:
                        raise
                fcntl.flock(line, fcntl.LOCK_UN)
            time.sleep(random.uniform(*WAITING))  # noqa: S311 - not a secret
    finally:
        os.close(line)


def with_patience(act: Callable[[], Result], patience: float, between: tuple[float, float]) -> Result:
    """Act as soon as nobody else has the lock, looking again and again for so many seconds.

    Whoever waits has done nothing yet.
    """
    until = time.monotonic() + patience
    while True:
        try:
            return act()
        except (OperationalError, sqlite3.OperationalError) as problem:
            if not is_locked(problem) or time.monotonic() > until:
                raise
        time.sleep(random.uniform(*between))  # noqa: S311 - not a secret


def is_locked(problem: Exception) -> bool:
    return "is locked" in str(problem)


def _has(line: int, kind: int) -> bool:
    try:
        fcntl.flock(line, kind | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    return True
