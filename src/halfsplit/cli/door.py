"""Which command was asked for, and how it says no.

Each command lives in a module of its own, imported only when it is asked for: starting up is most of
what a small command costs.
"""

import argparse
import difflib
import io
import os
import re
import sys
from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import NoReturn

from halfsplit.cli.plain_letters import PLAIN_LETTERS
from halfsplit.errors import InputError, Mistake, UsageError

USAGE_EXIT = 2
"""The exit code when something was not as it should be; 0 is that all went well."""

_BEGINS_LIKE_A_NUMBER = re.compile(r"-\s*[.\d]")


class _Parser(argparse.ArgumentParser):
    """A parser that says no in our own way."""

    def error(self, message: str) -> NoReturn:
        usage = " ".join(self.format_usage().removeprefix("usage:").split())
        do = f"'{self.prog} --help' says more"
        raise UsageError([Mistake(self.prog, "HS901", message, f"it is called as: {usage}", do)])


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command of the shell.

    Args:
        argv: the words after the program's name; None = those of this process.

    Returns:
        The exit code: 0, or 2 when something was not as it should be; then every mistake is on stderr.
        ``book check`` returns 1 where the book has mistakes, which it was asked for.
    """
    words = list(sys.argv[1:] if argv is None else argv)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors=PLAIN_LETTERS)  # a terminal that lacks a sign shows letters, and no crash
    exit_code = 0
    try:
        exit_code = _run(words)
        sys.stdout.flush()
    except InputError as error:
        for mistake in error.mistakes:
            print(mistake, file=sys.stderr)
        return USAGE_EXIT
    except BrokenPipeError:  # whoever read our output has read enough
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    return exit_code


def _run(words: list[str]) -> int:
    parser, commands = _parsers()
    if words and not words[0].startswith("-") and words[0] not in commands:
        near = difflib.get_close_matches(words[0], commands, n=1)
        do = f"Did you mean '{near[0]}'? Write it so" if near else "'halfsplit --help' says what they do"
        so = f"'{words[0]}' is no command"
        raise UsageError([Mistake("halfsplit", "HS901", so, f"the commands are {', '.join(commands)}", do)])
    # What begins like a negative number is one ("-12V" too), and no option: a blank before it says so.
    asked = parser.parse_args([f" {word}" if _BEGINS_LIKE_A_NUMBER.match(word) else word for word in words])
    if asked.command == "rail":
        from halfsplit.cli.rail import show_rail  # noqa: PLC0415  only this command needs it

        show_rail(
            asked.name.strip(),
            asked.reading,
            asked.meter,
            asked.resolution,
            asked.revision,
            as_json=asked.json,
        )
    elif asked.command == "vocabulary":
        from halfsplit.cli.words import show_vocabulary  # noqa: PLC0415  only this command needs it

        show_vocabulary(as_json=asked.json)
    elif asked.command == "find":
        from halfsplit.cli.find import show_offers  # noqa: PLC0415  only this command needs it

        show_offers(" ".join(asked.words), as_json=asked.json)
    elif asked.command == "book":
        return _run_book(asked)
    elif asked.command == "simulate":
        from halfsplit.cli.simulate import show_simulation  # noqa: PLC0415  only this command needs it

        show_simulation(
            machines=asked.machines,
            seed=asked.seed,
            policies=asked.policy,
            complaint=asked.complaint,
            processes=asked.processes,
            cluster=asked.cluster,
            as_json=asked.json,
        )
    elif asked.command == "next":
        from halfsplit.cli.next import show_next  # noqa: PLC0415  only this command needs it
        from halfsplit.job.advise import advise  # noqa: PLC0415  only this command needs it

        show_next(asked.job, partial(advise, shown=asked.shown), as_json=asked.json)
    elif asked.command == "plan":
        from halfsplit.cli.next import show_plan  # noqa: PLC0415  only this command needs it
        from halfsplit.job.ahead import plan_ahead  # noqa: PLC0415  only this command needs it

        show_plan(asked.job, plan_ahead)
    elif asked.command in ("serve", "demo", "backup"):
        _run_bench(asked)
    else:
        from halfsplit.cli.weigh import show_weighed  # noqa: PLC0415  only this command needs it
        from halfsplit.job.weigh import weigh_job  # noqa: PLC0415  only this command needs it

        show_weighed(asked.job, partial(weigh_job, leave_out=asked.leave_out), as_json=asked.json)
    return 0


def _run_bench(asked: argparse.Namespace) -> None:
    if asked.command == "serve":
        from halfsplit.cli.serve import serve_bench  # noqa: PLC0415  only this command needs it

        serve_bench(asked.folder, url=asked.database, host=asked.host, port=asked.port, demo=asked.demo)
    elif asked.command == "backup":
        from halfsplit.cli.backup import make_backup  # noqa: PLC0415  only this command needs it

        make_backup(asked.folder, asked.into)
    elif asked.play:
        from halfsplit.cli.demo import show_play  # noqa: PLC0415  only this command needs it

        show_play()
    else:
        from halfsplit.cli.demo import show_demo_jobs  # noqa: PLC0415  only this command needs it

        show_demo_jobs()


def _run_book(asked: argparse.Namespace) -> int:
    if asked.about == "check":
        from halfsplit.cli.book_check import show_mistakes  # noqa: PLC0415  only this command needs it

        return show_mistakes(asked.dir, asked.over)
    if asked.about == "basis":
        from halfsplit.cli.book_basis import show_bases  # noqa: PLC0415  only this command needs it

        show_bases()
    else:
        from halfsplit.cli.book_show import show_entry, show_list  # noqa: PLC0415  only this command needs it

        if asked.id is None:
            show_list(as_json=asked.json)
        else:
            show_entry(asked.id, as_json=asked.json)
    return 0


def _parsers() -> tuple[argparse.ArgumentParser, list[str]]:
    """Return the parser, and the names of the commands."""
    parser = _Parser(
        prog="halfsplit",
        description="Find every fault of a desktop PC for the least bench time, money and risk.",
        allow_abbrev=False,
    )
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", required=True)
    weigh = commands.add_parser(
        "weigh",
        help="weigh the readings of a job file",
        description="Weigh the readings of a job file: the ladder with every run on it, how far each fault, "
        "part and set of faults is to be suspected, what moved them, and whether the readings agree.",
        allow_abbrev=False,
    )
    weigh.add_argument("job", metavar="JOB.yaml", type=Path, help="the job file")
    weigh.add_argument(
        "--leave-out", action="store_true", help="weigh it again without each reading in turn; takes some seconds"
    )
    vocabulary = commands.add_parser(
        "vocabulary",
        help="list every word that a job file may use",
        description="List every word that a job file may use, with one line each.",
        allow_abbrev=False,
    )
    rail = commands.add_parser(
        "rail",
        help="hold a measured voltage against the limits of its rail",
        description="Hold a measured voltage against the published limits of its rail.",
        epilog='example: halfsplit rail +12V 11.42 --meter "0.5%+2" --resolution 0.01',
        allow_abbrev=False,
    )
    rail.add_argument("name", metavar="NAME", help="the rail: +12V, -12V, 5V, 3.3V, 5VSB")
    rail.add_argument("reading", metavar="READING", help="what the meter shows, in volts")
    rail.add_argument("--meter", help='its accuracy, as in its manual: "0.5%%+2"')
    rail.add_argument("--resolution", help="one step of its last digit, in volts: 0.01")
    rail.add_argument("--revision", default="2.x", help="the revision that the supply was built to (2.x if left out)")
    find = commands.add_parser(
        "find",
        help="find what an owner's words may mean",
        description="Find the events, signs, stops and complaints that an owner's words may mean, the likeliest first.",
        epilog='example: halfsplit find "black screen since we moved"',
        allow_abbrev=False,
    )
    find.add_argument("words", metavar="WORDS", nargs="+", help="the owner's words")
    following = commands.add_parser(
        "next",
        help="say what to do next on a job file",
        description="Rank everything that can be done next on a job by what it leaves to pay: money, minutes and "
        "risk; with the reasons, what each result would mean, and where to stop and ask.",
        allow_abbrev=False,
    )
    following.add_argument("job", metavar="JOB.yaml", type=Path, help="the job file")
    following.add_argument(
        "--shown", metavar="ID", default="", help="what was on top before; it stays unless another is clearly better"
    )
    plan = commands.add_parser(
        "plan",
        help="print the way ahead of a job file as a tree",
        description="Print the way ahead of a job: what to do, and what after each result, down to the end.",
        allow_abbrev=False,
    )
    plan.add_argument("job", metavar="JOB.yaml", type=Path, help="the job file")
    _add_serve(commands)
    backup = commands.add_parser(
        "backup",
        help="copy the bench while it is in use",
        description="Copy a bench on SQLite, its database as of one moment and its photos, into an empty folder; the "
        "key of persons and private photos does not go along. The copy is served like any bench, with that key.",
        allow_abbrev=False,
    )
    backup.add_argument("into", metavar="DIR", type=Path, help="an empty folder, or one that is not there yet")
    backup.add_argument("--folder", metavar="DIR", type=Path, help="where the bench is kept")
    demo = commands.add_parser(
        "demo",
        help="list the demo's jobs, or play one by itself",
        description="List the job files of the demo; or play one job by itself, from intake to collection, on a bench "
        "that is gone afterwards. The answers come from a drawn machine. It takes a minute or two.",
        allow_abbrev=False,
    )
    demo.add_argument("--play", action="store_true", help="play one job by itself")
    show = _add_book(commands)
    simulate = _add_simulate(commands)
    for command in (weigh, vocabulary, rail, find, following, show, simulate):
        command.add_argument("--json", action="store_true", help="as JSON, for programs")
    return parser, list(commands.choices)


def _add_simulate(commands: "argparse._SubParsersAction[_Parser]") -> argparse.ArgumentParser:
    """Add ``simulate`` and return it."""
    simulate = commands.add_parser(
        "simulate",
        help="play policies on drawn machines",
        description="Draw machines from a truth that is not the fault book, and play each by every policy, to a proven "
        "repair or to handing back. Advice takes some seconds a step.",
        allow_abbrev=False,
    )
    simulate.add_argument("--machines", metavar="N", default="10", help="how many (10 if left out)")
    simulate.add_argument("--seed", metavar="S", default="1", help="what they are drawn from (1 if left out)")
    simulate.add_argument(
        "--policy", metavar="NAME", action="append", default=[], help="a policy; may be given again (all if left out)"
    )
    simulate.add_argument("--class", dest="complaint", metavar="CLASS", default="", help="one class of complaint only")
    simulate.add_argument("--processes", metavar="P", default="1", help="how many at once (1 if left out)")
    simulate.add_argument("--cluster", metavar="ADDRESS", default="", help="of the scheduler of a Dask cluster")
    return simulate


def _add_serve(commands: "argparse._SubParsersAction[_Parser]") -> None:
    """Add ``serve``."""
    serve = commands.add_parser(
        "serve",
        help="bring up the bench in the browser",
        description="Serve the bench as pages for a browser, on this computer only if not told otherwise. There are "
        "no passwords: whoever reaches the address can read and change everything.",
        allow_abbrev=False,
    )
    where = serve.add_mutually_exclusive_group()
    where.add_argument("--folder", metavar="DIR", type=Path, help="where the bench is kept")
    where.add_argument("--database", metavar="URL", default="", help="a PostgreSQL database instead")
    serve.add_argument("--host", default="127.0.0.1", help="the address to listen at (127.0.0.1 if left out)")
    serve.add_argument("--port", type=int, default=8600, help="the port (8600 if left out)")
    serve.add_argument("--demo", action="store_true", help="put jobs of invented machines on an empty bench")


def _add_book(commands: "argparse._SubParsersAction[_Parser]") -> argparse.ArgumentParser:
    """Add ``book`` with what it can be asked, and return ``book show``."""
    book = commands.add_parser(
        "book",
        help="check or show a fault book",
        description="Check a fault book, show what is in it, and what its numbers rest on.",
        allow_abbrev=False,
    )
    abouts = book.add_subparsers(dest="about", metavar="check|show|basis", required=True)
    check = abouts.add_parser(
        "check",
        help="list every mistake of a book",
        description="List every mistake of a fault book, one a line with its place, its code and what to do. "
        "The exit code is 1 where there are any.",
        allow_abbrev=False,
    )
    check.add_argument(
        "dir", metavar="DIR", type=Path, nargs="?", help="the book's folder; the shipped book if left out"
    )
    check.add_argument("--over", metavar="DIR", type=Path, help="the folder of a book that is laid over it")
    show = abouts.add_parser(
        "show",
        help="show one entry, or list what there is",
        description="Show a fault, check, repair, sign, event or other entry of the fault book, with its numbers. "
        "Without ID, list what there is.",
        allow_abbrev=False,
    )
    show.add_argument("id", metavar="ID", nargs="?", help="the id of the entry")
    abouts.add_parser(
        "basis",
        help="list what every number rests on",
        description="List what every number of the shipped fault book rests on, as a page in Markdown.",
        allow_abbrev=False,
    )
    return show
