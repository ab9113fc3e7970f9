"""The table of addresses: every one of them, who answers it, and what a form sent to it may hold.

The tests of security go through this table, so that an address added here is covered without being listed again.
"""

from typing import Final

from leanwright.web.files import WHERE, fixed_file
from leanwright.web.pages import (
    answers,
    books,
    entering,
    fitting,
    folders,
    handing_in,
    home,
    incoming,
    papers,
    receiving,
    recordings,
    releasing,
    settings,
    trying,
    watching,
)
from leanwright.web.visit import Entry

_RECORDING: Final = {"recording": "0" * 64}
_PAPER: Final = {"kind": "aircraft"}
_ENTRY: Final = {"entry": "1"}

TABLE: Final = (
    Entry("/", get=home.home),
    Entry(WHERE + "{name}", get=fixed_file, example={"name": "style.css"}),
    Entry("/recordings", get=recordings.every, post=incoming.take_in, uploads=True),
    Entry("/imports/{import}", get=incoming.watch, example={"import": "0" * 16}),
    Entry("/imports/{import}/stop", post=incoming.stop, example={"import": "0" * 16}),
    Entry("/recordings/belong", get=recordings.belong, post=recordings.say_engine, form=recordings.BelongForm),
    Entry("/recordings/{recording}", get=recordings.one, example=_RECORDING),
    Entry("/recordings/{recording}/trace", get=recordings.trace, example=_RECORDING),
    Entry("/recordings/{recording}/columns", get=recordings.columns, post=recordings.put_right,
          form=recordings.ColumnForm, example=_RECORDING),
    Entry("/recordings/{recording}/sweeps", post=recordings.say_by_hand, form=recordings.SweepForm, example=_RECORDING),
    Entry("/recordings/{recording}/sweeps/back", post=recordings.take_back, form=recordings.NumberForm, example=_RECORDING),
    Entry("/recordings/{recording}/away", post=recordings.put_away, example=_RECORDING),
    Entry("/recordings/{recording}/file", get=recordings.file, example=_RECORDING),
    Entry("/balance", get=answers.balance),
    Entry("/balance/sheet", get=answers.balance_sheet),
    Entry("/balance/enter", post=answers.enter, form=answers.EnterForm),
    Entry("/explain", get=answers.explain),
    Entry("/choose", get=answers.choose),
    Entry("/choose/order", get=answers.order),
    Entry("/choose/try", get=trying.try_it),
    Entry("/papers", get=papers.overview),
    Entry("/papers/{kind}", get=papers.one, post=papers.save, form=papers.PaperForm, example=_PAPER),
    Entry("/papers/{kind}/file", get=papers.out, post=papers.take_file, form=papers.OfEngine, uploads=True, example=_PAPER),
    Entry("/papers/{kind}/book", post=papers.take_from_book, form=papers.OfEngine, example=_PAPER),
    Entry("/papers/{kind}/away", post=papers.put_away, form=papers.OfEngine, example=_PAPER),
    Entry("/prove", get=answers.prove),
    Entry("/card", get=answers.card),
    Entry("/card/sheet", get=answers.card_sheet),
    Entry("/pack", get=answers.pack),
    Entry("/book", get=books.overview),
    Entry("/book/begin", post=books.begin),
    Entry("/book/notes", post=books.note, form=books.NoteForm),
    Entry("/book/check", post=books.check),
    Entry("/book/backups", post=books.back_up),
    Entry("/book/backups/{name}", get=books.backup_file, example={"name": "none.backup"}),
    Entry("/book/entries/{entry}", get=books.entry, example=_ENTRY),
    Entry("/book/entries/{entry}/correct", post=books.correct, form=books.CorrectionForm, example=_ENTRY),
    Entry("/book/entries/{entry}/void", post=books.void, form=books.ReasonForm, example=_ENTRY),
    Entry("/book/new/{kind}", get=entering.begin, post=entering.enter, form=entering.EntryForm, example={"kind": "person"}),
    Entry("/receive", get=receiving.orders, post=receiving.came, form=receiving.CameForm),
    Entry("/receive/let-out", post=receiving.let_out, form=receiving.LetOutForm),
    Entry("/fit", get=fitting.fit),
    Entry("/fit/steps", post=fitting.do_step, form=fitting.StepForm),
    Entry("/fit/pause", post=fitting.pause, form=fitting.PauseForm),
    Entry("/fit/resume", post=fitting.resume, form=fitting.ResumeForm),
    Entry("/fit/worksheet", get=handing_in.leave),
    Entry("/fit/hand-in", get=handing_in.form, post=handing_in.hand_in, form=handing_in.HandInForm, uploads=True),
    Entry("/release", get=releasing.release),
    Entry("/release/draft", post=releasing.draft, form=releasing.DraftForm),
    Entry("/release/sign", post=releasing.sign, form=releasing.SignForm),
    Entry("/release/attach", post=releasing.attach, form=releasing.AttachForm, uploads=True),
    Entry("/watch", get=watching.watch, post=watching.look, form=watching.LookForm),
    Entry("/leaning", get=watching.lean),
    Entry("/folders/take", post=folders.take, form=folders.OfferedForm),
    Entry("/folders/leave", post=folders.leave, form=folders.OfferedForm),
    Entry("/settings", get=settings.settings, post=settings.change, form=settings.SettingsForm),
    Entry("/leave", post=settings.leave),
)  # fmt: skip
