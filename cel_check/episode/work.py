"""What workers do: all that checks a cel or concludes a scene is imported here, and by them alone."""

from cel_check.episode.codec import answer_of
from cel_check.episode.conclude import conclude
from cel_check.episode.jobs import Answer, Job
from cel_check.episode.scene_task import SceneTask
from cel_check.scene.cel import check_cel


def do(job: Job) -> Answer:
    """Check a cel, or conclude a scene."""
    return conclude(job) if isinstance(job, SceneTask) else answer_of(check_cel(job))
