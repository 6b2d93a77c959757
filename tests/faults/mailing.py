"""Mailing alerts when mail servers fail and runs die: no alert is lost, and a repeat bears the name of the first."""

import os
import random
import signal
import time
from collections import Counter
from dataclasses import dataclass

from tests.faults import mail_jobs
from tests.faults.mail_server import STEPS, Mail, Manner, Post, mail_server
from tests.faults.real_databases import RealDatabase, Worker, WorkerDied

BEFORE_ANY_MAIL = "before any mail"


@dataclass
class Mailings:
    """What a story of mailing came to."""

    alerts: int = 0
    failures: int = 0
    lost: int = 0
    repeats: int = 0
    repeats_under_another_name: int = 0


def servers_that_fail(database: RealDatabase, *, rounds: int = 1) -> Mailings:
    """The server is not there, hangs, refuses or hangs up: the command says so, and the next run mails it all."""
    failures = 0
    with mail_server() as post:
        for _turn in range(rounds):
            for manner in (None, *(each for each in Manner if each is not Manner.TAKES)):
                database.do(mail_jobs.run_low, first=failures, count=1)
                _fail_and_try_again(database, post, manner, day=failures)
                failures += 1
    found = _compare(post.mails, alerts=failures, failures=failures)
    assert found.repeats <= rounds  # only a mail whose text was out can come twice
    return found


def kill_while_mailing(database: RealDatabase, *, kills: int, seed: int) -> Mailings:
    """`kill -9` the command at a random step of its work or of its talk with the mail server, again and again."""
    chance, late = random.Random(seed), 0
    with mail_server() as post:
        for turn in range(kills):
            database.do(mail_jobs.run_low, first=turn, count=1)
            late += _kill_at(database, post, chance.choice([BEFORE_ANY_MAIL, *STEPS]), chance, day=turn)
            database.do(mail_jobs.let_time_pass)
        while "Emails sent: 0." not in database.do(mail_jobs.send_alerts, port=post.port, day=kills)[1]:
            pass
    assert database.do(mail_jobs.untold_alerts) == 0
    found = _compare(post.mails, alerts=kills, failures=kills)
    assert found.repeats <= late  # at most one for each run that died when its text was out
    return found


def mailing_at_once(database: RealDatabase, *, rounds: int, runs: int) -> Mailings:
    """Several runs at one moment mail each alert once."""
    with mail_server() as post:
        for turn in range(rounds):
            database.do(mail_jobs.run_low, first=3 * turn, count=3)
            told = database.together(mail_jobs.send_alerts, [{"port": post.port, "day": turn}] * runs)
            assert [status for status, _words in told] == [0] * runs, told
    found = _compare(post.mails, alerts=3 * rounds, failures=0)
    assert found.repeats == 0
    return found


def _fail_and_try_again(database: RealDatabase, post: Post, manner: Manner | None, *, day: int) -> None:
    """One run against a server in a bad manner (None: nobody listens there), one against a good one."""
    if manner is None:
        status, words = database.do(mail_jobs.send_alerts, port=1, day=day)
    else:
        post.manner = manner
        status, words = database.do(mail_jobs.send_alerts, port=post.port, day=day)
    assert status == 1, (manner, words)
    assert words.startswith("The email could not be sent")
    assert words.endswith("The next run tries again.")
    post.manner = Manner.TAKES
    status, words = database.do(mail_jobs.send_alerts, port=post.port, day=day)
    assert (status, "Emails sent: 1." in words) == (0, True), words


def _kill_at(database: RealDatabase, post: Post, step: str, chance: random.Random, *, day: int) -> bool:
    """Kill a run when it comes to a step; whether its text was out by then."""
    out = len(post.mails)
    worker: Worker = database.start(mail_jobs.send_alerts, port=post.port, day=day)
    pid = worker.process.pid

    def kill(name: str) -> None:
        if name == step:
            os.kill(pid, signal.SIGKILL)

    post.at_step = kill
    if step == BEFORE_ANY_MAIL:
        time.sleep(chance.uniform(0, 0.05))
        os.kill(pid, signal.SIGKILL)
    try:
        worker.answer()
    except WorkerDied:
        pass
    finally:
        post.at_step = None
    return step == "the text" or (step in ("QUIT", BEFORE_ANY_MAIL) and len(post.mails) > out)


def _compare(mails: list[Mail], *, alerts: int, failures: int) -> Mailings:
    """Every alert stands in a mail that was taken, and all the mails that it stands in bear one name."""
    lost = renamed = 0
    for number in range(alerts):
        about = [mail for mail in mails if f"{mail_jobs.name_of(number)}:" in mail.text]
        lost += not any(mail.taken for mail in about)
        renamed += len({mail.name for mail in about}) > 1
    times = Counter(mail.name for mail in mails)
    assert (lost, renamed) == (0, 0)
    return Mailings(alerts, failures, lost, sum(times.values()) - len(times), renamed)
