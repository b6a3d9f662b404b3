"""`manage.py validate_prediction`: leaves out each design once and compares the prediction with its
evidence.
"""

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from measurements.errors import BenchnightError
from measurements.rf.ferrites.leave_one_out import COVERAGE_GOAL, ModelValidation, PredictionErrors
from measurements.services.releases import learning


class Command(BaseCommand):
    help = "Leaves out each design once, predicts it from the others, and keeps how well that went."

    def handle(self, *_args: Any, **_options: Any) -> None:
        try:
            found = learning.validate_models()
        except BenchnightError as error:
            raise CommandError(error.detail) from error
        for circle, validation in found.items():
            self.stdout.write(f"{circle}: {validation.left_out} of {validation.designs} designs left out")
            self._table(validation)

    def _table(self, validation: ModelValidation) -> None:
        if validation.coverage is not None:
            low, high = COVERAGE_GOAL
            self.stdout.write(
                f"  {validation.coverage:.0%} of the figures of {validation.devices} devices lie in the 80 % "
                f"interval (wanted: {low:.0%} to {high:.0%})"
            )
        self.stdout.write(
            "  median absolute error of worst-in-band rejection, dB\n"
            f"  {'mix':<6}{'figures':>8}{'model':>8}{'tables':>8}{'nearest':>9}"
        )
        for mix, errors in {"all": validation.errors, **validation.by_mix}.items():
            self.stdout.write(f"  {mix:<6}{errors.figures:>8}{self._row(errors)}")
        words = {True: "better than both rivals", False: "not better than both rivals", None: "no rival"}
        self.stdout.write(f"  The model is {words[validation.better]}.")

    @staticmethod
    def _row(errors: PredictionErrors) -> str:
        cells = (errors.model_db, errors.physics_db, errors.nearest_db)
        shown = ["-" if each is None else f"{each:.2f}" for each in cells]
        return f"{shown[0]:>8}{shown[1]:>8}{shown[2]:>9}"
