"""What can go wrong with a book, each in three sentences: what happened, what is safe, what to do."""

from __future__ import annotations

from pathlib import Path

from herdbook.words import say


class BookError(Exception):
    """Something a person has to know about the book.

    Parameters
    ----------
    what, safe, todo : str
        What happened; what is safe; what to do. `str` gives the three as one paragraph.
    """

    def __init__(self, what: str, safe: str, todo: str) -> None:
        super().__init__(f"{what} {safe} {todo}")
        self.what = what
        self.safe = safe
        self.todo = todo


class BookMissing(BookError):
    """There is no such file."""

    def __init__(self, path: Path) -> None:
        super().__init__(
            say("There is no file {path}.", path=path),
            say("Nothing was changed."),
            say(
                "Look whether it was moved or renamed, or whether the stick or drive it is on is plugged in."
            ),
        )


class BookIsFolder(BookError):
    """The path is a folder."""

    def __init__(self, path: Path) -> None:
        super().__init__(
            say("{path} is a folder, not a herd book.", path=path),
            say("Nothing was changed."),
            say("Choose the file of the herd book inside it."),
        )


class BookEmpty(BookError):
    """The file has no content."""

    def __init__(self, path: Path) -> None:
        super().__init__(
            say("The file {path} is empty.", path=path),
            say("Nothing was changed."),
            say("If it once was a herd book, put back a copy of it; for a new book choose another name."),
        )


class NotAHerdBook(BookError):
    """The file is something else."""

    def __init__(self, path: Path) -> None:
        super().__init__(
            say("{path} is not a herd book.", path=path),
            say("Nothing was changed."),
            say("Choose a herd book; sheets of animals are read in, not opened."),
        )


class BookDamaged(BookError):
    """The file, or a value in it, cannot be read."""

    def __init__(self, path: Path, detail: str = "") -> None:
        super().__init__(
            say("The herd book {path} is damaged ({detail}).", path=path, detail=detail or say("unreadable")),
            say("It was left as it is; the copies in the folder beside it are untouched."),
            say("Put the file aside, do not write to it, and open the latest copy."),
        )
        self.detail = detail


class BookNewer(BookError):
    """The file was written by a later version of the program."""

    def __init__(self, path: Path, revision: int) -> None:
        super().__init__(
            say(
                "{path} was written by a newer herdbook (its form is {revision}).",
                path=path,
                revision=revision,
            ),
            say("Nothing was changed."),
            say("Install the newer program to open it, or open a copy made before."),
        )


class BookOlder(BookError):
    """The file must be brought up to date, which cannot be done by reading alone."""

    def __init__(self, path: Path) -> None:
        super().__init__(
            say("{path} was written by an older herdbook and must be brought up to date first.", path=path),
            say("Nothing was changed."),
            say("Open it once for writing; a copy of it as it is now is kept beside it."),
        )


class UpdateFailed(BookError):
    """Bringing a file up to date did not succeed."""

    def __init__(self, path: Path, detail: str, kept: Path) -> None:
        super().__init__(
            say("{path} could not be brought up to date ({detail}).", path=path, detail=detail),
            say("The book is as it was before, and a copy of it is kept as {kept}.", kept=kept),
            say("Go on with the program that wrote it, and report this."),
        )


class BookIsHeld(BookError):
    """Another program or window has the book open for writing."""

    def __init__(self, path: Path, holder: str = "") -> None:
        what = (
            say("{path} is open in another window or program ({holder}).", path=path, holder=holder)
            if holder
            else say("{path} is open in another window or program.", path=path)
        )
        super().__init__(
            what,
            say("Nothing was changed."),
            say("Close it there first, or open it here for reading only."),
        )
        self.holder = holder


class BookExists(BookError):
    """A new book was asked for under the name of a file that there is."""

    def __init__(self, path: Path) -> None:
        super().__init__(
            say("There is a file {path} already.", path=path),
            say("It was left as it is."),
            say("Choose another name for the new book, or open the one that is there."),
        )


class LogLeftBehind(BookError):
    """A new book was asked for where the log of a book that is gone still lies."""

    def __init__(self, log: Path) -> None:
        super().__init__(
            say("{log} was left behind by a book of that name which is no longer there.", log=log),
            say("Nothing was changed; what was saved last in that book may stand in it."),
            say("If the book was moved, move this file back to it; otherwise choose another name."),
        )


class BookUnfinished(BookError):
    """A program was stopped while it saved, and reading alone cannot put that right."""

    def __init__(self, path: Path) -> None:
        super().__init__(
            say("The last program that wrote {path} was stopped while it saved.", path=path),
            say("Everything that was saved before is in it."),
            say("Open it once for writing, which puts it right."),
        )


class NoFolder(BookError):
    """The folder for a new file is not there."""

    def __init__(self, path: Path) -> None:
        super().__init__(
            say("There is no folder {folder}.", folder=path.parent),
            say("Nothing was changed."),
            say("Make the folder first, or choose another."),
        )


class NoPermission(BookError):
    """The system does not let this person read or write the file or its folder."""

    def __init__(self, path: Path, writing: bool) -> None:
        super().__init__(
            say("You are not allowed to write {path} or in its folder.", path=path)
            if writing
            else say("You are not allowed to read {path}.", path=path),
            say("Nothing was changed."),
            say("Open it for reading only, or copy it into a folder of your own.")
            if writing
            else say("Ask whoever looks after this computer to give you the right to it."),
        )


class BookReadOnly(BookError):
    """A write was asked of a book opened for reading only."""

    def __init__(self, path: Path) -> None:
        super().__init__(
            say("{path} is open for reading only.", path=path),
            say("Nothing was changed."),
            say("Close it and open it for writing."),
        )


class BookClosed(BookError):
    """The book has been closed."""

    def __init__(self, path: Path) -> None:
        super().__init__(
            say("{path} has been closed.", path=path),
            say("Everything that was saved before is in it."),
            say("Open it again to go on."),
        )


class BookOutOfReach(BookError):
    """The disk did not answer: a stick pulled out, a network gone, a faulty disk."""

    def __init__(self, path: Path, detail: str = "") -> None:
        super().__init__(
            say("The disk that holds {path} does not answer ({detail}).", path=path, detail=detail),
            say("What was saved before stands; what was being saved just now did not go in."),
            say("Plug the disk or stick in again, close the book and open it once more."),
        )


class DiskFull(BookError):
    """There is no room left."""

    def __init__(self, path: Path) -> None:
        super().__init__(
            say("The disk that holds {path} is full.", path=path),
            say("What was saved before stands; what was being saved just now did not go in."),
            say("Make room on the disk and save again."),
        )


class BookBusy(BookError):
    """Some other program kept the file locked for too long."""

    def __init__(self, path: Path) -> None:
        super().__init__(
            say("Another program is using {path} and did not let go of it.", path=path),
            say("What was saved before stands; what was being saved just now did not go in."),
            say("Wait for the other program, often a backup or a synchronised folder, and save again."),
        )


class NothingToUndo(BookError):
    """There is no act left to undo."""

    def __init__(self) -> None:
        super().__init__(
            say("There is nothing to undo."), say("Nothing was changed."), say("Go on as before.")
        )


class NothingToRedo(BookError):
    """There is no undone act to do again."""

    def __init__(self) -> None:
        super().__init__(
            say("There is nothing to do again."), say("Nothing was changed."), say("Go on as before.")
        )


class UndoEndsHere(BookError):
    """The act was recorded before the book was brought up to date."""

    def __init__(self) -> None:
        super().__init__(
            say("Undo ends here: what came before was recorded by an older herdbook."),
            say("Nothing was changed; the older acts stay readable in the history."),
            say("Correct the record by hand, or look at the copy made before the update."),
        )


class UndoFailed(BookError):
    """The rows are not as the journal says they were left."""

    def __init__(self, detail: str) -> None:
        super().__init__(
            say("This could not be undone ({detail}).", detail=detail),
            say("Nothing was changed."),
            say("Correct the record by hand, and report this."),
        )
