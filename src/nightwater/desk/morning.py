"""At dawn: did it happen?"""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from nightwater.desk.course import Course
from nightwater.desk.nights import StoredNight, required_approved
from nightwater.proof.document import proof_to_document
from nightwater.proof.verdict import prove


def morning(course: Course, night: date) -> StoredNight:
    """Compare planned, commanded and metered; the proof is kept with the night.

    Raises:
        NotFoundError: no approved night for that date.
    """
    stored = required_approved(course, night)
    proof = prove(
        stored.plan,
        course.file.running("commands", night=stored.id),
        course.file.running("samples", night=stored.id),
        course.ground,
        course.settings,
    )
    course.file.save_proof(stored.id, proof_to_document(proof))
    return replace(stored, proof=proof)
