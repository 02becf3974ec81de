"""Colours of maps: known values, even steps, and what colour-blind people see."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from nightwater.desk import coverage_colours as colours
from nightwater.desk.coverage_colours import (
    display_rgb,
    from_oklab,
    hex_rgb,
    linear_rgb,
    oklab,
    rgb_hex,
    run_of_colours,
)

# Machado, Oliveira, Fernandes 2009, A physiologically-based model for simulation of color
# vision deficiency, matrices of severity 1.0 (values from memory), on linear light.
BLIND = {
    "protan": (
        (0.152286, 1.052583, -0.204868),
        (0.114503, 0.786281, 0.099216),
        (-0.003882, -0.048116, 1.051998),
    ),
    "deutan": (
        (0.367322, 0.860646, -0.227968),
        (0.280085, 0.672501, 0.047413),
        (-0.011820, 0.042940, 0.968881),
    ),
    "tritan": (
        (1.255528, -0.076749, -0.178779),
        (-0.078411, 0.930809, 0.147602),
        (0.004733, 0.691367, 0.303900),
    ),
}
LEAST_APART = 0.04  # in Oklab; two areas of colour side by side differ from about 0.02 on


def seen_by(kind: str, colour: str) -> str:
    light = np.array(BLIND[kind]) @ linear_rgb(hex_rgb(colour))
    return rgb_hex(display_rgb(light))


def lightness(shades: tuple[str, ...]) -> NDArray[np.float64]:
    return np.array([oklab(shade)[0] for shade in shades])


def apart(shades: list[str]) -> NDArray[np.float64]:
    places = np.array([oklab(shade) for shade in shades])
    distance = np.linalg.norm(places[:, None] - places[None], axis=2)
    return distance[np.triu_indices(len(shades), 1)]


class TestOklab:
    def test_white_black_and_a_grey(self) -> None:
        assert oklab("#ffffff") == pytest.approx([1, 0, 0], abs=1e-4)
        assert oklab("#000000") == pytest.approx([0, 0, 0], abs=1e-4)
        grey = oklab("#777777")
        assert grey[1:] == pytest.approx([0, 0], abs=1e-4)

    def test_pure_red_as_published(self) -> None:
        # CSS Color Module Level 4 gives oklab(62.8% 0.225 0.126) for red.
        assert oklab("#ff0000") == pytest.approx([0.628, 0.225, 0.126], abs=5e-4)

    @pytest.mark.parametrize("colour", ["#12345c", "#4b998c", "#e9e6b4", "#b0642a", "#010203"])
    def test_there_and_back(self, colour: str) -> None:
        assert from_oklab(oklab(colour)) == colour

    def test_what_no_screen_can_show_is_cut_off(self) -> None:
        assert from_oklab([1.2, 0.0, 0.0]) == "#ffffff"


class TestRuns:
    def test_it_starts_and_ends_at_its_anchors(self) -> None:
        shades = run_of_colours(colours.RISING, 8)
        assert (shades[0], shades[-1]) == (colours.RISING[0], colours.RISING[-1])
        assert len(set(shades)) == 8

    def test_one_colour_is_the_last(self) -> None:
        assert run_of_colours(colours.RISING, 1) == (colours.RISING[-1],)

    def test_none_is_refused(self) -> None:
        with pytest.raises(ValueError, match="at least one"):
            run_of_colours(colours.RISING, 0)

    def test_steps_look_equally_large(self) -> None:
        places = np.array([oklab(shade) for shade in run_of_colours(colours.RISING, 8)])
        steps = np.linalg.norm(np.diff(places, axis=0), axis=1)
        assert steps.max() / steps.min() < 1.25  # corners at anchors, and 255 steps a part

    @pytest.mark.parametrize("count", [3, 6, 8])
    def test_more_water_is_always_darker(self, count: int) -> None:
        assert (np.diff(lightness(run_of_colours(colours.RISING, count))) < -0.02).all()

    @pytest.mark.parametrize("kind", sorted(BLIND))
    def test_and_stays_so_for_colour_blind_people(self, kind: str) -> None:
        shades = [seen_by(kind, shade) for shade in run_of_colours(colours.RISING, 8)]
        assert (np.diff(lightness(tuple(shades))) < -0.02).all()
        dry = seen_by(kind, colours.NONE)
        assert apart([dry, *shades]).min() > LEAST_APART

    @pytest.mark.parametrize("kind", sorted(BLIND))
    def test_short_and_over_are_told_apart_by_all(self, kind: str) -> None:
        shades = (
            *run_of_colours(colours.SHORT, 3),
            colours.AS_NEEDED,
            *run_of_colours(colours.OVER, 3),
        )
        assert apart([seen_by(kind, shade) for shade in shades]).min() > LEAST_APART
