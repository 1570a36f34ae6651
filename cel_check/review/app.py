"""The desk's answers: one short function an address. Numbers come in, JSON and pictures go out."""

import asyncio
import logging
from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from importlib.resources import files
from typing import Any, TypeVar
from urllib.parse import parse_qs

from jinja2 import ChoiceLoader, PackageLoader
from pydantic import ValidationError
from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response
from starlette.routing import Route

from cel_check.episode.agreement import agreement
from cel_check.episode.decisions import history, revoked_lessons
from cel_check.episode.lessons import lessons_of
from cel_check.errors import BadInput
from cel_check.report.html import page_environment
from cel_check.review.asked import (
    Asked,
    AskedCel,
    AskedDecision,
    AskedFault,
    AskedLesson,
    AskedScene,
    AskedUndo,
    AskedUnlearn,
)
from cel_check.review.desk import Conflict, Desk
from cel_check.review.gate import LOG, Gate, Guard, TooLong, opening_token, refusal_of, same
from cel_check.review.pictures import Asked as AskedPicture
from cel_check.review.pictures import PictureDesk
from cel_check.review.shelf import Unknown
from cel_check.review.views import (
    agreement_view,
    lessons_view,
    scene_view,
    scenes_view,
    under_view,
    words_view,
)
from cel_check.scene.names import shown

STATIC = {
    "desk.css": "text/css; charset=utf-8",
    **{
        f"{name}.js": "text/javascript; charset=utf-8"
        for name in ("desk", "server", "stage", "player", "panel", "keys", "dialogs", "sheet")
    },
}
"""Every file that the page takes, by name: nothing else is handed out."""

WRONG_PASSWORD_SECONDS = 1.0
"""What a wrong password costs; they are answered one at a time."""

A = TypeVar("A", bound=Asked)


@dataclass(frozen=True)
class Rooms:
    """What the answers are made from: the desk, its pictures, its gate, and the name offered to a person."""

    desk: Desk
    pictures: PictureDesk
    gate: Gate
    who: str


def desk_app(rooms: Rooms) -> Guard:
    """Return the application behind its guard."""
    answers = Answers(rooms)
    get, post = ["GET"], ["POST"]
    routes = [
        Route("/", answers.door, methods=get),
        Route("/enter", answers.enter, methods=post),
        Route("/static/{name}", answers.static, methods=get),
        Route("/api/episode", answers.episode, methods=get),
        Route("/api/lessons", answers.lessons, methods=get),
        Route("/api/scene/{scene:int}", answers.scene, methods=get),
        Route(
            "/api/scene/{scene:int}/under/{frame:int}/{levels:int}/{x:int}/{y:int}",
            answers.under,
            methods=get,
        ),
        Route("/picture/{scene:int}/frame/{frame:int}/{levels:int}/{reduce:int}", answers.frame, methods=get),
        Route("/picture/{scene:int}/cel/{level:int}/{drawing:int}/{reduce:int}", answers.cel, methods=get),
        Route("/api/scene/{scene:int}/decide", answers.decide, methods=post),
        Route("/api/scene/{scene:int}/teach", answers.teach, methods=post),
        Route("/api/scene/{scene:int}/pass-cel", answers.pass_cel, methods=post),
        Route("/api/scene/{scene:int}/pass", answers.pass_scene, methods=post),
        Route("/api/scene/{scene:int}/add", answers.add, methods=post),
        Route("/api/scene/{scene:int}/undo", answers.undo, methods=post),
        Route("/api/unlearn", answers.unlearn, methods=post),
    ]
    handlers: dict[Any, Callable[..., Awaitable[Response]]] = {
        Unknown: _told(404),
        Conflict: _told(409),
        BadInput: _told(503),
        TooLong: _too_long,
        Exception: _defect,
    }
    return Guard(Starlette(routes=routes, exception_handlers=handlers), rooms.gate)


def _told(status: int) -> Callable[..., Awaitable[Response]]:
    async def handler(_request: Request, error: Exception) -> Response:
        return JSONResponse({"error": shown(str(error))}, status)

    return handler


async def _too_long(request: Request, _error: Exception) -> Response:
    return refusal_of(request.scope, (413, "the request is too long"))


async def _defect(_request: Request, error: Exception) -> Response:
    LOG.log(logging.ERROR, "an answer failed: %s: %s", type(error).__name__, shown(str(error))[:300])
    return JSONResponse({"error": "the desk failed to answer; its terminal says why"}, 500)


class Answers:
    """One method an address."""

    def __init__(self, rooms: Rooms) -> None:
        """Read the page's template."""
        self._desk, self._pictures, self._gate = rooms.desk, rooms.pictures, rooms.gate
        self._who = rooms.who
        self._wrong = asyncio.Lock()
        shared = page_environment()
        own = PackageLoader("cel_check.review", "templates")
        self._pages = shared.overlay(loader=ChoiceLoader([own, shared.loader] if shared.loader else [own]))

    async def door(self, request: Request) -> Response:
        """Let in whoever has the link or is in already; else ask for the password, or say how to come in."""
        if same(opening_token(request.scope), self._gate.link):
            return self._let_in()
        if self._gate.knows_session(request.headers):
            return self._page()
        return self._closed("", 401 if self._gate.password else 403)

    async def enter(self, request: Request) -> Response:
        """Let in whoever knows the password."""
        given = parse_qs((await request.body()).decode("utf-8", "replace"), max_num_fields=5)
        word = given.get("password", [""])[0]
        if self._gate.password and same(word, self._gate.password):
            return self._let_in()
        async with self._wrong:
            await asyncio.sleep(WRONG_PASSWORD_SECONDS)
        client = request.client.host if request.client else "unknown"
        LOG.warning("refused (401): a wrong password from %s", client)
        return self._closed("That is not the password.", 401)

    def _let_in(self) -> Response:
        response = RedirectResponse("/", 303)
        response.set_cookie(self._gate.cookie, self._gate.session, httponly=True, samesite="strict")
        return response

    def _closed(self, problem: str, status: int) -> Response:
        text = self._pages.get_template("door.html").render(ask=bool(self._gate.password), problem=problem)
        return HTMLResponse(text, status)

    def _page(self) -> Response:
        episode = self._desk.episode
        text = self._pages.get_template("desk.html").render(
            episode=episode, token=self._gate.token, who=self._who
        )
        return HTMLResponse(text)

    async def static(self, request: Request) -> Response:
        """Hand out one of the page's own files."""
        name = str(request.path_params["name"])
        if name not in STATIC:
            raise Unknown("there is no such file")
        body = (files("cel_check.review") / "static" / name).read_bytes()
        return Response(body, media_type=STATIC[name])

    def episode(self, request: Request) -> Response:
        """Tell the scenes, and the words that all of them share."""
        del request
        return JSONResponse({"scenes": scenes_view(self._desk.all_stand()), "words": words_view()})

    def scene(self, request: Request) -> Response:
        """Tell a scene as it stands."""
        return JSONResponse(self._scene(request.path_params["scene"]))

    def _scene(self, number: int) -> dict[str, Any]:
        return scene_view(self._desk.stands(number))

    def under(self, request: Request) -> Response:
        """Tell what lies under a pixel."""
        asked = request.path_params
        shelf, size = self._desk.look(asked["scene"])
        at = (asked["x"], asked["y"])
        found = self._pictures.under(shelf, AskedPicture(asked["frame"], asked["levels"]), at, size)
        return JSONResponse({"cels": under_view(found)})

    def frame(self, request: Request) -> Response:
        """Show a frame."""
        asked = request.path_params
        shelf, size = self._desk.look(asked["scene"])
        which = AskedPicture(asked["frame"], asked["levels"], asked["reduce"])
        body = self._pictures.frame(shelf, which, size)
        return Response(body, media_type="image/png")

    def cel(self, request: Request) -> Response:
        """Show one cel."""
        asked = request.path_params
        shelf, size = self._desk.look(asked["scene"])
        place = (asked["level"], asked["drawing"])
        body = self._pictures.cel(shelf, place, asked["reduce"], size)
        return Response(body, media_type="image/png")

    def lessons(self, request: Request) -> Response:
        """Tell every lesson, and how often people agreed with the check."""
        del request
        with self._desk.reading() as db:
            lessons = lessons_of(db)
            scenes = {lesson.scene for lesson in lessons}
            revoked = frozenset().union(*(revoked_lessons(history(db, scene)) for scene in scenes))
            rows = agreement(db)
        return JSONResponse({"lessons": lessons_view(lessons, revoked), "agreement": agreement_view(rows)})

    async def decide(self, request: Request) -> Response:
        """Keep a decision on a fault."""

        def act(scene: int, asked: AskedDecision) -> dict[str, Any]:
            number, alike = self._desk.decide(scene, asked)
            return {"decision": number, "alike": [line.identity for line in alike]}

        return await self._change(request, AskedDecision, act)

    async def teach(self, request: Request) -> Response:
        """Keep a lesson."""
        return await self._change(
            request, AskedLesson, lambda scene, asked: {"lesson": self._desk.teach(scene, asked)}
        )

    async def pass_cel(self, request: Request) -> Response:
        """Pass a cel."""
        return await self._change(
            request, AskedCel, lambda scene, asked: {"decision": self._desk.pass_cel(scene, asked)}
        )

    async def pass_scene(self, request: Request) -> Response:
        """Pass a scene."""
        return await self._change(
            request, AskedScene, lambda scene, asked: {"decision": self._desk.pass_scene(scene, asked)}
        )

    async def add(self, request: Request) -> Response:
        """Keep a fault drawn by hand."""
        return await self._change(
            request, AskedFault, lambda scene, asked: {"added": self._desk.add(scene, asked)}
        )

    async def undo(self, request: Request) -> Response:
        """Take back a person's last decision in a scene."""

        def act(scene: int, asked: AskedUndo) -> dict[str, Any]:
            last = self._desk.undo(scene, asked)
            return {"undone": last.id, "fault": last.fault, "lesson": last.lesson}

        return await self._change(request, AskedUndo, act)

    async def unlearn(self, request: Request) -> Response:
        """Take back a lesson."""
        asked = await _asked(request, AskedUnlearn)
        if isinstance(asked, Response):
            return asked
        scene = await run_in_threadpool(self._desk.unlearn, asked)
        return JSONResponse({"scene": shown(scene)})

    async def _change(
        self, request: Request, kind: type[A], act: Callable[[int, A], dict[str, Any]]
    ) -> Response:
        """Do what was asked; the answer is sent when the disk holds it, with the scene as it stands then."""
        asked = await _asked(request, kind)
        if isinstance(asked, Response):
            return asked
        scene: int = request.path_params["scene"]

        def work() -> dict[str, Any]:
            return act(scene, asked) | {"scene": self._scene(scene)}

        return JSONResponse(await run_in_threadpool(work))


async def _asked(request: Request, kind: type[A]) -> A | Response:
    try:
        return kind.model_validate_json(await request.body())
    except ValidationError as error:
        first = error.errors(include_url=False, include_input=False)[0]
        where = ".".join(str(part) for part in first["loc"]) or "the request"
        return JSONResponse({"error": shown(f"{where}: {first['msg']}")}, 422)
