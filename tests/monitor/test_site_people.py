"""What a site file says of people, and what is said of mistakes in it."""

import pytest

from monitor.problems import ProblemsError
from monitor.site_file import parse_site
from tests.made_up import SITE_TEXT

PEOPLE = """
[agreed]
ware = "bisque"
spread_c = 60.0
reduction_c = [[900, 1000], [1150, 1250]]
stoke_every = [[300, 20], [1000, 6]]
[crew]
changes = ["22:00", "06:00", "14:30"]
sign_of_life = false
[emergency]
number = "112"
address = "Kiln shed, Old Mill Lane 3, Quiet Hill"
directions = "Second gate after the bridge"
[[emergency.person]]
name = "Ana"
phone = "+351 555 0100"
"""


def test_what_people_agreed_on_is_read() -> None:
    """Changes of watch come in the order of the day."""
    site = parse_site(SITE_TEXT + PEOPLE, "kiln.toml")

    assert (site.agreed.ware, site.agreed.spread_c, site.agreed.stoke_every[1]) == ("bisque", 60.0, (1000.0, 6.0))
    assert site.crew.change_hours == (6.0, 14.5, 22.0)
    assert site.emergency is not None
    assert (site.emergency.number, site.emergency.person[0].phone) == ("112", "+351 555 0100")


@pytest.mark.parametrize(
    ("was", "becomes", "said"),
    [
        ('"bisque"', '"wet"', "agreed.ware: Input should be 'raw' or 'bisque'"),
        ("[900, 1000]", "[1000, 900]", "agreed.reduction_c: each range is two temperatures"),
        ("[1000, 6]", "[200, 6]", "agreed.stoke_every: degC must rise"),
        ("[1000, 6]", "[1000, 0]", "agreed.stoke_every[2][2]: Input should be greater than 0"),
        ('"06:00"', '"6:00"', "crew.changes: local times of day such as '06:00'"),
        ('"112"', '"call us"', "emergency.number: a telephone number"),
        ('address = "Kiln shed, Old Mill Lane 3, Quiet Hill"', "", "emergency.address: missing; add it"),
        ("sign_of_life = false", 'sign_of_life = "no"', "crew.sign_of_life: Input should be a valid boolean"),
    ],
)
def test_a_mistake_is_told_with_its_key(was: str, becomes: str, said: str) -> None:
    """And with what is allowed."""
    with pytest.raises(ProblemsError) as caught:
        parse_site(SITE_TEXT + PEOPLE.replace(was, becomes), "kiln.toml")

    assert any(said in line for line in caught.value.problems), caught.value.problems
