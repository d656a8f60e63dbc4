"""The command about what the shop has taught: history."""

from straighten.cli.figures import FigureOption, looked_at, outgoing, write_figure
from straighten.cli.options import BookOption, Json, answer
from straighten.cli.paths import book_path
from straighten.cli.waiting import busy


def history(
    figure: FigureOption = None,
    book: BookOption = None,
    as_json: Json = False,
) -> None:
    """Show what the shop's heads have taught: factors, passes per head, foretold against measured."""
    from straighten.book import open_book
    from straighten.desk.reading_out import shop_history
    from straighten.sheet.history import history_text

    looked_at(figure)
    with open_book(book_path(book), create=False) as opened, busy("looking through all passes"):
        found = shop_history(opened)
    if figure is not None:
        from straighten.sheet.figures.history import HistoryPicture

        with outgoing() as files:
            write_figure(files, figure, HistoryPicture(points=found.points))
    answer(found.to_plain(), history_text(found), as_json=as_json)
