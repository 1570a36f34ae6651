"""The two kinds of work on an episode, and how this machine's workers do them."""

from cel_check.episode.cel_workers import PREPARE, set_up_workers
from cel_check.episode.codec import CelAnswer
from cel_check.episode.pool import Plan, Pool, Stop
from cel_check.episode.scene_task import SceneAnswer, SceneTask
from cel_check.episode.worker import Named
from cel_check.errors import Problem
from cel_check.scene.names import shown
from cel_check.scene.tasks import CelTask, unchecked

Job = CelTask | SceneTask
Answer = CelAnswer | SceneAnswer
JobPool = Pool[Job, Answer]

_SECONDS_A_SCENE, _SECONDS_A_CEL = 300.0, 5.0
"""A scene's report draws its faulty cels again, at a fraction of a second each."""


def job_plan(jobs: int, stop: Stop | None) -> Plan[Job, Answer]:
    """Return how jobs are done: one core a worker, and an answer also to a job that kills its worker."""
    set_up_workers()
    return Plan(Named("cel_check.episode.work", "do"), lost, seconds, jobs, PREPARE, stop)


def seconds(job: Job) -> float:
    """Return how long a job may take."""
    if isinstance(job, SceneTask):
        return _SECONDS_A_SCENE + _SECONDS_A_CEL * len(job.slots)
    return job.seconds


def lost(job: Job, reason: str) -> Answer:
    """Return the answer to a job that could not be done."""
    if isinstance(job, SceneTask):
        wrong = f"its report could not be made: {shown(reason)}"
        return SceneAnswer(problems=(Problem(str(job.scene.folder), "", wrong, "Run again."),))
    return CelAnswer(result=unchecked(job, f"the check did not finish: {shown(reason)}"))
