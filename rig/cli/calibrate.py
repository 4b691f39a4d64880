"""`teachrig calibrate`: reference distances against the target's own scale, and what follows from them."""

from __future__ import annotations

from argparse import Namespace
from datetime import datetime
from typing import Any

from rig.calibration.calibration import Calibration, objections, places_of, residual_plot
from rig.calibration.run import Wanted
from rig.calibration.session import CalibrationSession
from rig.cli.exits import Exit, GiveUp, narrate, reader_may_leave
from rig.cli.inputs import bare_bench, data_folder, open_library, person_named, read_profile
from rig.cli.json_text import print_json
from rig.cli.layout import Page
from rig.cli.progress import Watch
from rig.session import JOURNAL_NAME
from rig.store.hashing import content_of
from rig.summary import Summary
from wiring.plainwords import printable
from wiring.profile import RigProfile, TargetKind


def command(options: Namespace) -> int:
    """Calibrate; 0 if the rig is as good as its profile says, 1 if not."""
    library = open_library()
    profile = read_profile(options.rig, library)
    bench_file = bare_bench(options, profile, library)
    journal = data_folder(options.data) / JOURNAL_NAME
    wanted = Wanted(
        _nest(options.nest, profile),
        places_of(profile.target, options.places),
        options.reference,
        options.reference_error,
        "" if options.by is None else person_named("--by", options.by),
        datetime.now().astimezone().date(),
        options.valid_days,
    )
    session = CalibrationSession(
        profile,
        bench_file,
        options.real_time,
        journal,
        wanted,
        notice=lambda words: narrate(f"note: {words}"),
    )
    watch = Watch(session, Summary(), live=not options.json)
    calibration = watch.run()
    against = objections(calibration, profile.target)
    with reader_may_leave():
        if options.json:
            print_json(_as_dict(calibration, against))
        else:
            _print(calibration, against, profile)
    narrate(f"record: {journal}")
    return watch.stopped_by or (Exit.NOT_ALL_GOOD if against else Exit.DONE)


def _nest(name: str | None, profile: RigProfile) -> str:
    names = [nest.name for nest in profile.nest]
    if name is not None and name not in names:
        given = f"--nest: rig {profile.name} has no nest {printable(name, 40)!r}"
        raise GiveUp(Exit.BAD_INPUT, f"{given}; allowed: {', '.join(names)}")
    return name or names[0]


def _print(calibration: Calibration, against: tuple[str, ...], profile: RigProfile) -> None:
    page, line = Page(), calibration.line
    page.say(f"calibration of rig {calibration.rig}, nest {calibration.nest}, {calibration.day}")
    page.pairs(
        (
            ("with", f"{calibration.reference}, right within {calibration.reference_error_mm:g} mm"),
            ("zero", f"{calibration.zero_mm:+.3f} mm, standard uncertainty {line.u_intercept:.3f} mm"),
            ("scale", f"{calibration.scale:.6f}, standard uncertainty {line.u_slope:.6f}"),
            (
                "scatter",
                f"{line.scatter:.3f} mm about the line, {line.degrees_of_freedom} degrees of freedom",
            ),
            ("holds", f"up to {calibration.due}"),
            ("kept as", content_of(calibration.content())[0]),
        )
    )
    page.heading("measured less fitted")
    page.lines(residual_plot(calibration.shown_mm, line.residuals))
    page.heading("expanded uncertainty (95 %) of a distance")
    for at_mm in (calibration.shown_mm[0], calibration.shown_mm[-1]):
        page.say(f"  at {at_mm:g} mm: {calibration.u_mm(at_mm):.3f} mm")
    page.say("")
    if against:
        page.say("the rig is not within this calibration:")
    for words in against:
        page.item(words)
    if not against:
        use = (
            "the stage is corrected by it"
            if profile.target.kind is TargetKind.STAGE
            else "nothing is corrected"
        )
        page.say(f"rig {calibration.rig} is as good as its profile says; {use}")


def _as_dict(calibration: Calibration, against: tuple[str, ...]) -> dict[str, Any]:
    line = calibration.line
    return {
        **calibration.content(),
        "sha256": content_of(calibration.content())[0],
        "zero_mm": calibration.zero_mm,
        "u_zero_mm": line.u_intercept,
        "scale": calibration.scale,
        "u_scale": line.u_slope,
        "covariance_mm": line.covariance,
        "scatter_mm": line.scatter,
        "residuals_mm": list(line.residuals),
        "expanded_mm": [calibration.u_mm(one) for one in calibration.shown_mm],
        "within": not against,
        "objections": list(against),
    }
