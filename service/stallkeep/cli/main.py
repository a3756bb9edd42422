"""Commands and their options; what each does stands in its own file."""

from __future__ import annotations

import argparse
import io
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import msgspec
import structlog

from stallkeep.config import Settings, SettingsError, read_settings
from stallkeep.domain.errors import StallkeepError
from stallkeep.log import set_up_log

COULD_NOT_RUN = 2

log = structlog.get_logger()


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command.

    Returns:
        The exit status: 0 when all is well, 1 when something needs a person, 2 when the command
        could not run.
    """
    _write_whatever_there_is()
    options = _parser().parse_args(arguments)
    try:
        settings = _settings(options)
        set_up_log(settings.log, settings.log_level)
        status: int = options.run(settings, options)
    except SettingsError as error:
        return _say(f"Settings: {error}")
    except StallkeepError as error:
        return _say(f"{error.title}: {error.detail}")
    except KeyboardInterrupt:
        return _say("Stopped.")
    except OSError as error:
        return _say(_in_words(error))
    except Exception as error:
        log.debug("command_failed", exc_info=error)
        return _say(
            f"It failed in a way nobody foresaw ({type(error).__name__}: {error}). "
            "With STALLKEEP_LOG_LEVEL=debug it tells where."
        )
    return status


def _in_words(error: OSError) -> str:
    if isinstance(error, FileNotFoundError) and error.filename:
        return f"There is no file or folder {error.filename}"
    return str(error)


def _write_whatever_there_is() -> None:
    """Let no name of a file or shop fail where the terminal cannot show it."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")


def _port(text: str) -> int:
    port = int(text)
    if port not in range(65536):
        raise argparse.ArgumentTypeError(f"{port} is no port: there are 0 to 65535")
    return port


def _path(text: str) -> Path:
    if not text:
        raise argparse.ArgumentTypeError("it is empty")
    return Path(text)


def _say(text: str) -> int:
    print(f"stallkeep: {text}", file=sys.stderr)  # noqa: T201 - a command's last word
    return COULD_NOT_RUN


def _settings(options: argparse.Namespace) -> Settings:
    given = {
        name: getattr(options, name)
        for name in ("data_dir", "host", "port")
        if getattr(options, name, None) is not None
    }
    settings = read_settings()
    if options.run is _demo and options.data_dir is None:
        # Invented sales stay apart from the shop's own.
        given["data_dir"] = settings.data_dir.with_name(f"{settings.data_dir.name}-demo")
    return msgspec.structs.replace(settings, **given)


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="stallkeep",
        description="One stock, several places to sell it, and what each market really earned.",
    )
    commands = parser.add_subparsers(metavar="COMMAND", required=True)
    _add_demo(commands)
    _add_serve(commands)
    _add_import(commands)
    _add_shop(commands)
    _add_keeping(commands)
    return parser


def _command(
    commands: argparse._SubParsersAction[argparse.ArgumentParser], name: str, help_text: str
) -> argparse.ArgumentParser:
    command = commands.add_parser(name, help=help_text, description=help_text)
    command.add_argument(
        "--data-dir", type=_path, metavar="FOLDER", help="folder of the embedded database"
    )
    return command


def _add_demo(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    demo = _command(commands, "demo", "Run the main job on an invented shop, then serve it.")
    demo.add_argument("--once", action="store_true", help="print the result and stop")
    demo.add_argument("--host", help="address to listen on")
    demo.add_argument("--port", type=_port, help="port to listen on")
    demo.set_defaults(run=_demo)


def _add_serve(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    serve = _command(commands, "serve", "Run the service.")
    serve.add_argument("--host", help="address to listen on")
    serve.add_argument("--port", type=_port, help="port to listen on")
    serve.set_defaults(run=_serve)


def _add_import(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    nightly = _command(
        commands,
        "import",
        "Take every new export of a folder in, or one file; reconcile what it touches; report.",
    )
    nightly.add_argument(
        "path", type=_path, metavar="PATH", help="folder with exports, or one file"
    )
    nightly.add_argument("--shop", help="name or id of the shop, where there are several")
    one = nightly.add_argument_group("for one file, remembered for others like it")
    one.add_argument("--importer", metavar="NAME", help="who is to read it")
    one.add_argument("--place", metavar="NAME", help="channel or event that its rows belong to")
    several: Any = {"action": "append", "default": []}
    one.add_argument("--answer", metavar="NAME=VALUE", help="answer to a question", **several)
    one.add_argument(
        "--column", metavar="FIELD=HEADING", help="column that holds a field", **several
    )
    nightly.set_defaults(run=_import)


def _add_shop(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    shop = _command(commands, "open-shop", "Open a shop and print its owner's token.")
    shop.add_argument("name", help="name of the shop")
    shop.add_argument("--currency", required=True, help="ISO 4217 code, such as EUR")
    shop.add_argument("--time-zone", required=True, help="IANA name, such as Europe/Berlin")
    shop.add_argument(
        "--language", action="append", help="ISO 639-1 code; may be given several times"
    )
    shop.set_defaults(run=_open_shop)
    shops = _command(commands, "shops", "List the shops of this database.")
    shops.set_defaults(run=_list_shops)


def _add_keeping(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    backup = _command(commands, "backup", "Write the whole database into one file.")
    backup.add_argument("file", type=_path, metavar="FILE")
    backup.set_defaults(run=_backup)
    restore = _command(commands, "restore", "Bring a backup back into an empty database.")
    restore.add_argument("file", type=_path, metavar="FILE")
    restore.set_defaults(run=_restore)
    openapi = commands.add_parser("openapi", help="Print the OpenAPI document of the service.")
    openapi.set_defaults(run=_openapi)


# Each command imports its own file only when it runs: a help text should not wait for scipy.
def _demo(settings: Settings, options: argparse.Namespace) -> int:
    from stallkeep.cli.demo import demo  # noqa: PLC0415

    return demo(settings, once=options.once)


def _serve(settings: Settings, _: argparse.Namespace) -> int:
    from stallkeep.cli.serve import serve  # noqa: PLC0415

    return serve(settings)


def _import(settings: Settings, options: argparse.Namespace) -> int:
    from stallkeep.cli.nightly import nightly  # noqa: PLC0415
    from stallkeep.cli.one_file import one_file, read_said, refuse_said  # noqa: PLC0415

    if not options.path.is_dir():
        said = read_said(options.importer, options.place, options.answer, options.column)
        return one_file(settings, options.path, options.shop, said)
    refuse_said(options.importer, options.place, options.answer, options.column)
    return nightly(settings, options.path, options.shop)


def _open_shop(settings: Settings, options: argparse.Namespace) -> int:
    from stallkeep.cli.shops import open_new_shop  # noqa: PLC0415

    languages = options.language or ["en"]
    return open_new_shop(settings, options.name, options.currency, options.time_zone, languages)


def _list_shops(settings: Settings, _: argparse.Namespace) -> int:
    from stallkeep.cli.shops import list_shops  # noqa: PLC0415

    return list_shops(settings)


def _backup(settings: Settings, options: argparse.Namespace) -> int:
    from stallkeep.cli.keeping import backup  # noqa: PLC0415

    return backup(settings, options.file)


def _restore(settings: Settings, options: argparse.Namespace) -> int:
    from stallkeep.cli.keeping import restore  # noqa: PLC0415

    return restore(settings, options.file)


def _openapi(_: Settings, __: argparse.Namespace) -> int:
    from stallkeep.api.openapi import write_document  # noqa: PLC0415

    write_document(sys.stdout)
    return 0
