"""Gives the tests of the desk an episode that was checked once, copied for each of them."""

import shutil

import desks
import pytest


@pytest.fixture(scope="session")
def checked(tmp_path_factory):
    folder = desks.make_episode(tmp_path_factory.mktemp("desk") / "ep04")
    desks.check(folder)
    return folder


@pytest.fixture
def episode(checked, tmp_path):
    return shutil.copytree(checked, tmp_path / "ep04")  # times of files are kept


@pytest.fixture
def desk(episode):
    return desks.Desk(episode).enter()
