"""`dictate model`: speech models that may be added."""

from __future__ import annotations

import typer

from dictate.text import harmless

model_app = typer.Typer(help="Speech models that may be added.", no_args_is_help=True)


@model_app.command("get")
def model_get(name: str) -> None:
    """Download a speech model by name; the only time that the network is used."""
    from rich.markup import escape
    from rich.progress import BarColumn, DownloadColumn, Progress

    from dictate.speech.model import download

    with Progress("{task.description}", BarColumn(), DownloadColumn()) as progress:
        task = progress.add_task(escape(harmless(name)), total=None)
        folder = download(
            name,
            progress=lambda done, total: progress.update(task, completed=done, total=total),
        )
    print(f"The model is in {folder}; “dictate check” says what it knows.")
