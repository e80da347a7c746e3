"""What a client file cannot say, and that it is told in one line."""

from __future__ import annotations

import pytest

from lanes.reading.client import ClientError, parse_client


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('{"hand": "right", "speed_mph": ' + "9" * 5000 + "}", "not JSON"),
        ('{"hand": "right", "speed_mph": 1e999}', "speed_mph"),
        ('{"hand": "right", "balls": [{"name": "a\\u0000b"}]}', r"balls\[1\].name"),
        ('{"hand": "right", "balls": [{"name": "a\\ud800"}]}', r"balls\[1\].name"),
        ('{"hand": "right", "balls": [{"name": "a\\nb"}]}', r"balls\[1\].name"),
    ],
)
def test_a_number_or_name_that_nothing_can_hold(text: str, said: str) -> None:
    with pytest.raises(ClientError, match=said):
        parse_client(text.encode())


def test_the_angles_of_a_layout_reach_the_ball() -> None:
    text = (
        '{"hand": "right", "balls": [{"name": "A", "pin_to_pap_in": 4.5,'
        ' "angle_at_pin_deg": 70, "angle_at_pap_deg": 30}]}'
    )
    _, [ball] = parse_client(text.encode())
    assert (ball.pin_to_pap_in, ball.angle_at_pin_deg, ball.angle_at_pap_deg) == (4.5, 70.0, 30.0)
    with pytest.raises(ClientError, match=r"balls\[1\].angle_at_pap_deg"):
        parse_client(text.replace("30}", "181}").encode())
