"""A scene's report as one page, its pictures beside it."""

from cel_check.report.html import page_environment, policy_of
from cel_check.report.page import build_page, loose_faults
from cel_check.report.pictures import Pictures
from cel_check.report.tiles import strip_tiles
from cel_check.report.words import count_verdicts, shown_verdict, verdict_sentences
from cel_check.scene.results import SceneResult
from cel_check.version import NAME, VERSION


def render_html(result: SceneResult, pictures: Pictures) -> bytes:
    """Return `report.html` as UTF-8; the same bytes for the same results and pictures."""
    environment = page_environment()
    loose = loose_faults(result)
    verdict = shown_verdict(result)
    text = environment.get_template("report.html").render(
        scene=result,
        page=build_page(result, strip_tiles(result), pictures),
        picture_problems=pictures.problems,
        verdict=verdict,
        sentences=verdict_sentences(result, len(loose)),
        counts=count_verdicts(result),
        program=f"{NAME} {VERSION}",
        policy=policy_of(environment, "report.css"),
    )
    return text.encode("utf-8")
