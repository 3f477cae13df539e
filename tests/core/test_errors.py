import pytest

from refuge.errors import FeedError, InputError, MissingDataError, RefugeError, StoreError, similar


# interface.md, 'Everywhere': exit codes
@pytest.mark.parametrize(
    ("kind", "code"), [(InputError, 2), (MissingDataError, 3), (StoreError, 3), (FeedError, 4), (RefugeError, 1)]
)
def test_exit_codes_and_the_tree(kind: type[RefugeError], code: int) -> None:
    assert kind("it broke").exit_code == code
    assert issubclass(kind, RefugeError)


def test_a_message_says_what_where_and_what_to_do() -> None:
    error = InputError("no such thing", where="--at", remedy="write another")
    assert str(error) == "--at: no such thing - write another"
    assert (error.what, error.where, error.remedy) == ("no such thing", "--at", "write another")
    assert str(StoreError("it broke")) == "it broke"
    assert str(FeedError("it broke", where="there")) == "there: it broke"
    assert str(RefugeError("it broke", remedy="mend it")) == "it broke - mend it"


@pytest.mark.parametrize(
    ("name", "known", "said"),
    # One letter wrong, missing or twice: common practice, no source
    [
        ("XTEZ", ["XTES", "XCOR"], "; did you mean XTES?"),
        ("xa-glas", ["XA-GLASS", "XA-GYRO"], "; did you mean XA-GLASS?"),
        ("XTTES", ["XTES"], "; did you mean XTES?"),
        ("NOPE", ["XTES", "XCOR"], ""),
        ("XTES", [], ""),
    ],
)
def test_names_that_a_slip_may_have_meant(name: str, known: list[str], said: str) -> None:
    assert similar(name, known) == said
