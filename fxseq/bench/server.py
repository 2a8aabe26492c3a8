"""The server: what the page may ask for, each in a few lines. Nothing here computes; what takes
long goes to a thread.
"""

import asyncio
import base64
import contextlib
import json
import math
from collections.abc import AsyncIterator, Callable
from typing import Any

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect, Request
from starlette.responses import Response
from starlette.routing import Route, WebSocketRoute
from starlette.types import ASGIApp
from starlette.websockets import WebSocket, WebSocketDisconnect

from fxseq.bench import files
from fxseq.bench.boards import Boards
from fxseq.bench.body import (
    BUG,
    MOST_PICTURE_BYTES,
    MOST_RECORDING_BYTES,
    Refused,
    path_of,
    read_body,
    read_json,
    text_of,
)
from fxseq.bench.worker import Hub, LongWork, NumbersWorker, WorkProcess
from fxseq.bench.desk import Desk, OutsideChange, Version
from fxseq.bench.effect_strip import audition, effect_view
from fxseq.bench.export import export_page
from fxseq.bench.guard import PROTOCOL, Guard, faults_json
from fxseq.bench.forms import forms
from fxseq.bench.lamps import lamp_changes
from fxseq.bench.listen import listening, made_clip, recording_wav
from fxseq.bench.meters import Meters
from fxseq.bench.run_files import FILES, LIGHTS, pressed_script, run_file
from fxseq.bench.scripts import script_view
from fxseq.bench.things import carry_out, parts_view, plainly, uses_view
from fxseq.bench.unsaved import Unsaved
from fxseq.bench.uploads import add_picture, add_recording, replace_recording
from fxseq.bench.view import picture_file, prop_view, table_change, with_values_alone
from fxseq.bench.wiring import wiring_drawing, wiring_view
from fxseq.link import Progress
from fxseq.runs import Prop
from fxseq.sequence import Fault, FxError
from fxseq.sequence.wording import name_from

CONTENT_TYPES = {
    "/api/clips": "application/octet-stream",
    "/api/picture": "application/octet-stream",
}
LOOK_EVERY_S = 1.0
"""How often the file on disk is looked at."""
TICK_S = 0.25
"""How often pages are told how far a board has played."""


class Bench:
    """The desk and what is going on around it, as the page's requests reach them. One event
    loop; one change at a time.

    aside: where key numbers are found.
    """

    def __init__(self, desk: Desk, unsaved: Unsaved, aside: WorkProcess) -> None:
        self.desk = desk
        self.unsaved = unsaved
        self.aside = aside
        self.hub = Hub()
        self.boards = Boards()
        self.worker = NumbersWorker(self.hub, lambda: desk.now, aside)
        self.long = LongWork(self.hub)
        self._meters = Meters()
        self._told_shape = ""
        self._found: dict[str, dict[str, Any]] = {}
        self._changing = asyncio.Lock()
        self._drawing = asyncio.Lock()
        self._changed_outside = False

    def routes(self) -> list[Route | WebSocketRoute]:
        """All that can be asked for."""
        asked = {
            "/": files.index,
            "/page/{name}": files.page_file,
            "/api/prop": self.prop,
            "/api/table": self.table,
            "/api/numbers": self.numbers,
            "/api/listen": self.listen,
            "/api/clips/{name}.wav": self.recording,
            "/api/clips/{name}/made": self.made,
            "/api/picture": self.picture,
            "/api/ports": self.ports,
            "/api/export": self.export,
            "/api/run/{name}": self.run,
            "/api/found": self.found,
            "/api/forms": self.forms,
            "/api/parts": self.parts,
            "/api/effects/{name}": self.effect,
            "/api/scripts/{name}": self.script,
            "/api/wiring": self.wiring,
            "/api/wiring/{name}/{theme}": self.drawing,
            "/api/difference": self.difference,
        }
        done = {
            "/api/edit": self.edit,
            "/api/undo": self.undo,
            "/api/redo": self.redo,
            "/api/save": self.save,
            "/api/reload": self.reload,
            "/api/clips": self.upload,
            "/api/picture": self.photo,
            "/api/unsaved": self.decide,
            "/api/lamps": self.lamps,
            "/api/parts": self.rework,
            "/api/uses": self.uses,
            "/api/copy": self.copy,
            "/api/effects/{name}": self.audition,
            "/api/board": self.board,
            "/api/push": self.push,
            "/api/prove": self.prove,
            "/api/run/{name}": self.pressed_run,
            "/api/fit": self.fit,
            "/api/for_speaker": self.for_speaker,
            "/api/cancel": self.cancel,
            "/api/rates": self.rates,
        }
        return [
            *(Route(path, act, methods=["GET"]) for path, act in asked.items()),
            *(Route(path, act, methods=["POST"]) for path, act in done.items()),
            WebSocketRoute("/api/changes", self.changes),
        ]

    async def prop(self, request: Request) -> Response:
        """The prop as it stands."""
        return self._prop()

    def _prop(self, before: Version | None = None) -> Response:
        """before: of a change. What is new brings along what is new in its table, since whoever
        has changed the prop waits to hear it, and leaves away what was told of settings before,
        which is most of it.
        """
        desk = self.desk
        view = prop_view(desk.now, self._meters.of)
        told, self._told_shape = self._told_shape, view["shape"]
        if before is not None and told == view["shape"]:
            view = with_values_alone(view)
        state = {
            "dirty": desk.dirty,
            "can_undo": desk.can_undo,
            "can_redo": desk.can_redo,
            "changed_outside": self._changed_outside,
        }
        if before is not None and before.revision != desk.now.revision:
            state["table"] = table_change(before, desk.now)
        return _json({**view, **state, **self._of_files()})

    def _of_files(self) -> dict[str, Any]:
        """What an earlier run has left, whether this one's edits would be found, too, and how
        large a file may be.
        """
        found = self.unsaved.found
        return {
            "found": found and {"at": found.at, "is_older": found.is_older},
            "is_kept": self.unsaved.is_kept,
            "most_bytes": {"recording": MOST_RECORDING_BYTES, "photo": MOST_PICTURE_BYTES},
        }

    async def table(self, request: Request) -> Response:
        """The table's bytes."""
        now = self.desk.now
        return Response(
            now.prop.compiled.data,
            media_type="application/octet-stream",
            headers={"X-Revision": str(now.revision)},
        )

    async def numbers(self, request: Request) -> Response:
        """Findings and key numbers of the press script."""
        return _json(await self.worker.numbers())

    async def listen(self, request: Request) -> Response:
        """What amplifier and speaker make of samples."""
        return _json(await run_in_threadpool(listening, self.desk.now.prop))

    async def recording(self, request: Request) -> Response:
        """A clip as recorded."""
        prop = self.desk.now.prop
        name = _clip_name(request, prop)
        clip = prop.sequence.clips[name]
        return Response(
            await run_in_threadpool(recording_wav, name, clip, prop.path.parent),
            media_type="audio/wav",
        )

    async def made(self, request: Request) -> Response:
        """A clip as the board plays it."""
        now = self.desk.now
        name = _clip_name(request, now.prop)
        made = await run_in_threadpool(made_clip, name, now.prop)
        return _json({"revision": now.revision, **made})

    async def picture(self, request: Request) -> Response:
        """The picture under the lamps."""
        path = picture_file(self.desk.now.prop)
        if path is None:
            raise Refused(404, Fault("picture", "there is none beside the prop file"))
        return await files.answer(path, files.PICTURES)

    async def edit(self, request: Request) -> Response:
        """Set one value."""
        body = await read_json(request)
        path = path_of(body)
        gesture = text_of(body, "gesture", "")
        if "value" not in body:
            raise Refused(
                400, Fault("request", "'value' is missing", "a value, or null to take the key out")
            )
        change = [(path, body["value"])]
        return await self._change(
            lambda: plainly(lambda: self.desk.edit(change, gesture), self.desk)
        )

    async def lamps(self, request: Request) -> Response:
        """Place lamps, number them, put them into groups; say how wide the photo under them is."""
        body = await read_json(request)
        gesture = text_of(body, "gesture", "")
        desk = self.desk
        return await self._change(
            lambda: plainly(lambda: desk.edit(lamp_changes(body, desk.now), gesture), desk)
        )

    async def forms(self, request: Request) -> Response:
        """What every key of a prop file is called, means and takes."""
        return _json(await run_in_threadpool(forms))

    async def parts(self, request: Request) -> Response:
        """All that the file says, and what holds where it says nothing."""
        return _json(await run_in_threadpool(parts_view, self.desk.now))

    async def wiring(self, request: Request) -> Response:
        """What is soldered to what, in words."""
        return _json(await run_in_threadpool(wiring_view, self.desk.now))

    async def drawing(self, request: Request) -> Response:
        """The same, drawn."""
        name, theme = (request.path_params[key] for key in ("name", "theme"))
        now = self.desk.now
        async with self._drawing:
            data = await run_in_threadpool(wiring_drawing, now, name, theme)
        return Response(data, media_type="image/svg+xml")

    async def uses(self, request: Request) -> Response:
        """Where a thing is used, and what would go with it."""
        body = await read_json(request)
        return _json(await run_in_threadpool(uses_view, body, self.desk.now))

    async def effect(self, request: Request) -> Response:
        """Clips of an effect, as they are drawn."""
        name = request.path_params["name"]
        return _json(await run_in_threadpool(effect_view, name, self.desk.now))

    async def script(self, request: Request) -> Response:
        """Items of a press script, and what they come to."""
        name = request.path_params["name"]
        return _json(await run_in_threadpool(script_view, name, self.desk.now))

    async def audition(self, request: Request) -> Response:
        """The table with a button more, under which the effect is begun. Changes nothing."""
        await read_json(request)
        name = request.path_params["name"]
        async with self._changing:
            return _json(await run_in_threadpool(audition, name, self.desk))

    async def copy(self, request: Request) -> Response:
        """Save a copy of the prop under another name."""
        name = name_from(text_of(await read_json(request), "name"))
        if not name:
            raise Refused(422, Fault("name", "a file cannot be called so", "letters and digits"))
        async with self._changing:
            target = await run_in_threadpool(self.desk.copy_to, name)
        return _json({"file": target.name})

    async def rework(self, request: Request) -> Response:
        """Make, change, name, copy, move or take out a thing."""
        body = await read_json(request)
        return await self._change(lambda: carry_out(body, self.desk))

    async def upload(self, request: Request) -> Response:
        """A recording as a new clip, or in place of that of one."""
        data = await read_body(request, MOST_RECORDING_BYTES)
        name = request.headers.get("x-name", "")
        clip = request.headers.get("x-in-place-of")
        if clip is not None:
            return await self._change(lambda: replace_recording(self.desk, clip, name, data))
        return await self._change(lambda: add_recording(self.desk, name, data))

    async def photo(self, request: Request) -> Response:
        """A photo as the picture under the lamps."""
        data = await read_body(request, MOST_PICTURE_BYTES)
        return await self._change(
            lambda: add_picture(self.desk, request.headers.get("x-name", ""), data)
        )

    async def decide(self, request: Request) -> Response:
        """Take or drop what an earlier run has left."""
        body = await read_json(request)
        if not isinstance(body.get("take"), bool):
            raise Refused(
                400, Fault("request", "'take' is neither true nor false", "true or false")
            )
        decide = self.unsaved.take if body["take"] else self.unsaved.drop
        answer = await self._change(decide)
        self.hub.tell({"found": None})
        return answer

    async def undo(self, request: Request) -> Response:
        """One step back."""
        return await self._ordered(request, self.desk.undo)

    async def redo(self, request: Request) -> Response:
        """One step forward again."""
        return await self._ordered(request, self.desk.redo)

    async def save(self, request: Request) -> Response:
        """Write the file; over what another program has written, where the maker says so."""
        over = (await read_json(request)).get("over") is True
        return await self._carried(lambda: self.desk.save(over))

    async def difference(self, request: Request) -> Response:
        """How what is on disk differs from what is edited."""
        async with self._changing:
            return _json({"lines": await run_in_threadpool(self.desk.difference)})

    async def reload(self, request: Request) -> Response:
        """Read the file again."""
        return await self._ordered(request, self.desk.reload)

    async def ports(self, request: Request) -> Response:
        """Where boards may be."""
        return _json(await run_in_threadpool(self.boards.ports))

    async def board(self, request: Request) -> Response:
        """Start the virtual board."""
        await read_json(request)
        return _json({"port": await run_in_threadpool(self.boards.start_virtual)})

    async def push(self, request: Request) -> Response:
        """Send the table to a board, telling all pages how far it is."""
        body = await read_json(request)
        if body.get("confirm") is not True:
            raise Refused(
                400, Fault("request", "'confirm' is not true", "true, once the maker has said so")
            )
        loop = asyncio.get_running_loop()

        def tell(progress: Progress) -> None:
            loop.call_soon_threadsafe(
                self.hub.tell,
                _progress("push", progress.done_bytes / progress.total_bytes),
            )

        return _json(
            await run_in_threadpool(
                self.boards.push, text_of(body, "port"), self.desk.now.prop, tell
            )
        )

    async def prove(self, request: Request) -> Response:
        """Have a board play the press script, and compare."""
        body = await read_json(request)
        prop = self.desk.now.prop
        duration_s = prop.script()[0].until_frame / prop.compiled.table.frame_rate_hz
        ticking = asyncio.create_task(self._tick("prove", duration_s))
        try:
            return _json(await run_in_threadpool(self.boards.prove, text_of(body, "port"), prop))
        finally:
            ticking.cancel()
            await asyncio.gather(ticking, return_exceptions=True)

    async def _tick(self, what: str, duration_s: float) -> None:
        """Tell how far something is that plays in real time."""
        for tick in range(1, math.ceil(duration_s / TICK_S)):
            await asyncio.sleep(TICK_S)
            self.hub.tell(_progress(what, tick * TICK_S / duration_s))

    async def export(self, request: Request) -> Response:
        """The page as one file."""
        numbers = await self.worker.whole()
        while numbers["revision"] != (now := self.desk.now).revision:
            numbers = await self.worker.whole()
        return _attachment(
            await run_in_threadpool(export_page, now, numbers),
            f"{now.prop.path.stem}.html",
            "text/html; charset=utf-8",
        )

    async def run(self, request: Request) -> Response:
        """Sound, figure or moving lights of the file's press script."""
        now = self.desk.now
        return await self._run_file(request, now)

    async def pressed_run(self, request: Request) -> Response:
        """Numbers of what was just pressed."""
        body = await read_json(request)
        return await self._run_file(request, self.desk.now, body)

    async def _run_file(
        self, request: Request, version: Version, pressed: dict[str, Any] | None = None
    ) -> Response:
        name = request.path_params["name"]
        if name not in (*FILES, LIGHTS):
            found = "there is no such file of it"
            raise Refused(404, Fault("run", found, ", ".join((*FILES, LIGHTS))))
        if pressed is None:
            script = version.prop.script()[0]
        else:
            script = pressed_script(version, pressed)
        kept_as = f"{version.prop.path.stem}_{name}"
        if name == LIGHTS:
            made = await self.long.run("lights", version, pressed=pressed)
            return _attachment(base64.b64decode(made["data"]), kept_as, "image/gif")
        # One at a time: a figure is drawn with settings that hold for the whole program.
        async with self._drawing:
            data = await run_in_threadpool(run_file, version, script, name)
        return _attachment(data, kept_as, FILES[name][0])

    async def fit(self, request: Request) -> Response:
        """What to store of each clip so that all fit the board and least is lost."""
        await read_json(request)
        return _json(await self._find("fit"))

    async def for_speaker(self, request: Request) -> Response:
        """Settings with which clips, by names, are as loud as the speaker can play them."""
        body = await read_json(request)
        names = body.get("names")
        clips = self.desk.now.prop.sequence.clips
        if not isinstance(names, list) or not set(map(str, names)) <= set(clips):
            allowed = ", ".join(clips)
            raise Refused(422, Fault("names", "these are no names of clips", allowed))
        return _json(await self._find("for_speaker", names=names))

    async def _find(self, what: str, **more: Any) -> dict[str, Any]:
        """What long work finds, kept for pages that are opened after it was asked for."""
        now = self.desk.now
        found = {"revision": now.revision, **await self.long.run(what, now, **more)}
        self._found[what] = found
        return found

    async def found(self, request: Request) -> Response:
        """What was found of the prop as it stands, by what was asked for."""
        revision = self.desk.now.revision
        found = self._found.items()
        return _json({what: each for what, each in found if each["revision"] == revision})

    async def cancel(self, request: Request) -> Response:
        """End long work, or the search for rates, which is work that nobody asked for."""
        body = await read_json(request)
        if body.get("what") == "rates":
            await self.worker.give_up()
        else:
            self.long.cancel()
        return _json({})

    async def rates(self, request: Request) -> Response:
        """Look for rates after all."""
        await read_json(request)
        return _json(await self.worker.look_again())

    async def _ordered(self, request: Request, act: Callable[[], Any]) -> Response:
        await read_json(request)
        return await self._change(act)

    async def _change(self, act: Callable[[], Any]) -> Response:
        """As `_carried`, of what changes the prop, for which the search for rates makes room."""
        self.worker.put_off()
        return await self._carried(act)

    async def _carried(self, act: Callable[[], Any]) -> Response:
        """Carry something out in a thread, tell every page, and answer with what the prop is
        then.
        """
        async with self._changing:
            before, was_said = self.desk.now, self._state()
            self._look(await run_in_threadpool(self._carry_out, act))
            if self._state() != was_said:
                self.hub.tell(self._state())
        return self._prop(before)

    def _carry_out(self, act: Callable[[], Any]) -> bool:
        """A change, kept before it is answered. Returns whether the file on disk is another one
        by now.
        """
        act()
        self.unsaved.follow()
        return self.desk.changed_outside

    def _state(self) -> dict[str, Any]:
        return {
            "revision": self.desk.now.revision,
            "dirty": self.desk.dirty,
            "changed_outside": self._changed_outside,
        }

    def _look(self, changed_outside: bool) -> None:
        if changed_outside != self._changed_outside:
            self._changed_outside = changed_outside
            self.hub.tell({"changed_outside": changed_outside})

    async def changes(self, socket: WebSocket) -> None:
        """Tell one page of all changes, until it goes."""
        await socket.accept(subprotocol=PROTOCOL)
        with self.hub.listening() as news:
            news.put_nowait(self._state())
            sending = asyncio.create_task(_send_all(news, socket))
            try:
                while (await socket.receive())["type"] != "websocket.disconnect":
                    pass
            finally:
                sending.cancel()
                await asyncio.gather(sending, return_exceptions=True)

    async def _watch(self) -> None:
        while True:
            await asyncio.sleep(LOOK_EVERY_S)
            async with self._changing:
                self._look(await run_in_threadpool(lambda: self.desk.changed_outside))

    @contextlib.asynccontextmanager
    async def life(self, app: Starlette) -> AsyncIterator[None]:
        """Look at the file for as long as the server runs."""
        watching = asyncio.create_task(self._watch())
        await run_in_threadpool(self.aside.start)
        try:
            yield
        finally:
            watching.cancel()
            await asyncio.gather(watching, return_exceptions=True)
            self.long.cancel()
            await self.worker.stop()
            await run_in_threadpool(self.boards.end)


def make_app(bench: Bench, host: str, token: str) -> ASGIApp:
    """The whole server behind its guard. host: `127.0.0.1:PORT`."""
    return Guard(bench_app(bench), host, token, CONTENT_TYPES)


def bench_app(bench: Bench) -> Starlette:
    """The server without its guard."""
    app = Starlette(routes=bench.routes(), exception_handlers=HANDLERS, lifespan=bench.life)
    app.router.redirect_slashes = False
    return app


async def _send_all(news: asyncio.Queue[dict[str, Any]], socket: WebSocket) -> None:
    with contextlib.suppress(WebSocketDisconnect):
        while True:
            await socket.send_json(await news.get())


def _progress(what: str, done: float) -> dict[str, Any]:
    return {"work": {"what": what, "done": done, "words": ""}}


def _clip_name(request: Request, prop: Prop) -> str:
    name: str = request.path_params["name"]
    if name not in prop.sequence.clips:
        raise Refused(
            404, Fault("clip", "there is none of that name", ", ".join(prop.sequence.clips))
        )
    return name


def _attachment(data: bytes, name: str, kind: str) -> Response:
    """A file to be kept under a name, of which a header can hold plain letters alone."""
    plain = name.encode("ascii", "replace").decode().translate(str.maketrans('"\\;?', "____"))
    return Response(
        data, media_type=kind, headers={"Content-Disposition": f'attachment; filename="{plain}"'}
    )


def _json(values: Any) -> Response:
    return Response(json.dumps(values, allow_nan=False), media_type="application/json")


async def _fault(request: Request, error: Exception) -> Response:
    assert isinstance(error, FxError)
    if isinstance(error, Refused):
        status = error.status
    elif isinstance(error, OutsideChange):
        status = 409
    else:
        status = 422
    return Response(faults_json(error.faults), status, media_type="application/json")


async def _http_fault(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    return Response(
        faults_json([Fault("request", error.detail)]),
        error.status_code,
        error.headers,
        "application/json",
    )


async def _gone(request: Request, error: Exception) -> Response:
    """To a client that has left before all of its request had come: nobody hears it."""
    return Response(status_code=400)


async def _bug(request: Request, error: Exception) -> Response:
    return Response(faults_json([BUG]), 500, media_type="application/json")


HANDLERS: dict[Any, Callable[..., Any]] = {
    ClientDisconnect: _gone,
    FxError: _fault,
    HTTPException: _http_fault,
    Exception: _bug,
}
"""What is answered where something went wrong."""
