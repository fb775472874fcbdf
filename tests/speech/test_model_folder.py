import shutil

import pytest

from speech.hearing import Hearer
from speech.model_folder import SHIPPED, model_fingerprint, open_model
from speech.phrase import Meaning, Phrase
from speech.refusals import ModelRefused


@pytest.fixture
def copy(tmp_path):
    return shutil.copytree(SHIPPED, tmp_path / "model")


def test_the_shipped_model_is_one_whose_graphs_we_can_build():
    assert open_model().ours


def test_the_shipped_model_is_small_enough_to_ship():
    assert sum(f.stat().st_size for f in SHIPPED.rglob("*") if f.is_file()) < 10_500_000


def test_another_folder_hears_through_the_same_door(copy, clip):
    listed = [Phrase("lock is off", Meaning("isolation", {"item": "lock", "state": "off"}))]
    assert Hearer(listed, copy).hear(clip("lock_is_off_clean")).verdict == "heard"


@pytest.mark.parametrize("missing", ["am/final.mdl", "conf/mfcc.conf", "conf/model.conf"])
def test_a_folder_without_a_part_is_refused_by_that_part(copy, missing):
    (copy / missing).unlink()
    with pytest.raises(ModelRefused, match=missing):
        open_model(copy)


def test_a_folder_that_is_none_is_refused(tmp_path):
    with pytest.raises(ModelRefused, match="not a folder"):
        open_model(tmp_path / "none")


def test_a_file_of_another_kind_in_place_of_the_network_is_refused(copy):
    (copy / "am" / "final.mdl").write_bytes(b"\x89PNG" + bytes(100))
    with pytest.raises(ModelRefused, match="does not begin"):
        open_model(copy)


def test_a_foreign_model_without_a_graph_is_refused(copy):
    (copy / "graph" / "phones.txt").write_text("<eps> 0\nSIL 1\n")
    with pytest.raises(ModelRefused, match=r"HCLr\.fst"):
        open_model(copy)


def test_the_fingerprint_changes_with_one_byte_of_the_network(copy):
    before = model_fingerprint(copy)
    assert before == model_fingerprint()
    raw = bytearray((copy / "am" / "final.mdl").read_bytes())
    raw[5_000_000] ^= 1
    (copy / "am" / "final.mdl").write_bytes(raw)
    assert model_fingerprint(copy) != before
