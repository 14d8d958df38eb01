"""The published JSON Schemas: fresh, valid, and of one mind with the readers; judged by the jsonschema library."""

from __future__ import annotations

import copy
import importlib.util
import json
import sys
import tomllib

import jsonschema
import pytest

from asflown.errors import InputError
from asflown.formats.hand_written import checked, load_toml
from asflown.formats.schemas import FILES


def _module(path, name):
    spec = importlib.util.spec_from_file_location(name, path)
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def examples(root):
    return _module(root / "tests" / "fuzz" / "written_examples.py", "written_examples").OURS


@pytest.fixture(scope="module")
def schemas(root):
    return {
        word: json.loads((root / "docs" / "schemas" / f"{word}.schema.json").read_text("utf-8"))
        for word in FILES
    }


def test_the_published_schemas_are_fresh(root):
    stale = _module(root / "tools" / "make_schemas.py", "make_schemas").stale()
    assert stale == [], "run tools/make_schemas.py"


def test_a_stale_schema_is_found(root, tmp_path):
    tool = _module(root / "tools" / "make_schemas.py", "make_schemas")
    (tmp_path / "notes.schema.json").write_text("{}")
    (tmp_path / "other.schema.json").write_text("{}")
    assert {"notes.schema.json", "other.schema.json", "aircraft.schema.json"} <= set(tool.stale(tmp_path))


@pytest.mark.parametrize("word", sorted(FILES))
def test_an_example_is_valid(word, schemas, examples):
    jsonschema.Draft202012Validator.check_schema(schemas[word])
    jsonschema.validate(
        tomllib.loads(examples[word].decode()), schemas[word], jsonschema.Draft202012Validator
    )


def _broken(tree):
    """Copies of a document, each with one thing wrong: a key nobody knows, or a table where a value belongs."""
    yield {**tree, "colour_of_the_sky": "blue"}
    for key in tree:
        spoiled = copy.deepcopy(tree)
        spoiled[key] = {"spoiled": {"by": ["a", {"test": 1}]}}
        yield spoiled


@pytest.mark.parametrize("word", sorted(FILES))
def test_reader_and_schema_refuse_the_same(word, schemas, examples):
    validator = jsonschema.Draft202012Validator(schemas[word])
    for tree in _broken(load_toml(examples[word], word)):
        assert not validator.is_valid(json.loads(json.dumps(tree, default=float)))
        with pytest.raises(InputError):
            checked(FILES[word], tree, word)
