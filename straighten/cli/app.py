"""The application: one module per command, gathered here; nothing heavy is imported before a command runs."""

import os

import typer

from straighten.cli import bench, exchange, finishing, heads, passes

app = typer.Typer(
    name="straighten",
    help="Plan the straightening of a bowed aluminium cylinder head, pass by pass.",
    invoke_without_command=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)


@app.callback(invoke_without_command=True)
def begin(
    context: typer.Context,
    version: bool = typer.Option(False, "--version", help="Print the version and leave."),
    debug: bool = typer.Option(False, "--debug", help="Show the trace where the program itself fails."),
) -> None:
    """Plan the straightening of a bowed aluminium cylinder head, pass by pass."""
    del debug  # read by the boundary
    if os.environ.get("NO_COLOR"):
        context.color = False
    if version:
        from straighten import __version__

        typer.echo(f"straighten {__version__}")
        raise typer.Exit
    if context.invoked_subcommand is None:
        from straighten.cli.waiting import START

        typer.echo(START)


for command in (heads.new, heads.measure, heads.check, heads.where):
    app.command()(command)
app.command("plan")(passes.plan)
app.command("tighten")(passes.tighten)
app.command("stage")(passes.stage)
app.command("log")(passes.log)
app.command("decide")(passes.decide)
app.command("try")(passes.try_)
app.command("explain")(passes.explain)
app.command("sheet")(finishing.sheet)
app.command("sand")(finishing.sand)
app.command("finish")(finishing.finish)
app.command("bench")(bench.bench)
app.command("heads")(exchange.heads)
app.command("history")(exchange.history)
app.command("export")(exchange.export)
app.command("import")(exchange.import_)
app.command("strike")(exchange.strike)
app.command("settle")(exchange.settle)
app.add_typer(exchange.book_app)
