"""What facts name by digest: a plan, a file, a photograph; and what each of them must be."""

from __future__ import annotations

from splicewright.store.facts.job_facts import JobOpened
from splicewright.store.facts.joint_facts import JointAssessed, JointPlanned, PhotoAdded
from splicewright.store.facts.kinds import What
from splicewright.store.facts.photo_facts import PhotographMeasured
from splicewright.store.facts.plant_facts import ConveyorRecorded, FastenersRecorded


def names_content(event: What) -> str | None:
    """Digest of the content a fact names."""
    if isinstance(event, JointPlanned | JobOpened):
        return event.plan
    if isinstance(event, PhotoAdded):
        return event.photo
    if isinstance(event, JointAssessed):
        return event.assessment
    if isinstance(event, PhotographMeasured):
        return event.document
    return event.file if isinstance(event, ConveyorRecorded | FastenersRecorded) else None


def unfit(event: What, media_type: str) -> str:
    """Why a kept content is not what this fact is about; empty when it is.

    A plan shown as a photograph is a broken picture, and a photograph read as a plan stops a job.
    """
    if isinstance(event, PhotoAdded):
        fits, called = media_type.startswith("image/"), "a photograph"
    elif isinstance(event, JointPlanned | JobOpened | JointAssessed | PhotographMeasured):
        fits, called = media_type == "application/json", "a plan, an assessment or a measurement"
    else:
        fits, called = media_type == "application/toml", "a file"
    return "" if fits else f"is kept as {media_type}; accepted here is {called}"
