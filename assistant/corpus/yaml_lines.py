"""YAML text -> plain data and the line of every node, with duplicate keys reported.

The YAML 1.1 words yes, no, on and off stay text: a senior technician writes `on_means: on` and means the word.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import yaml

from assistant.errors import Fault

Location = tuple[str | int, ...]
_TRUTH = {"true": True, "false": False}


@dataclass(slots=True)
class Document:
    """The data of one file, the line of every node by its path, and the faults met while reading."""

    file: str
    data: Any = None
    lines: dict[Location, int] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)

    def line(self, where: Location) -> int:
        """The line of the node at that path, or of its nearest parent that has one."""
        for length in range(len(where), -1, -1):
            if where[:length] in self.lines:
                return self.lines[where[:length]]
        return 1

    def fault(self, where: Location, message: str, hint: str = "") -> None:
        """Note a fault at that path."""
        self.faults.append(Fault(file=self.file, line=self.line(where), message=message, hint=hint))


def read_yaml(path: Path, name: str) -> Document:
    """Read one file; what cannot be parsed becomes a fault of the document, never an exception."""
    document = Document(file=name)
    try:
        text = path.read_text(encoding="utf-8")
        node = yaml.compose(text, Loader=yaml.CSafeLoader)
    except UnicodeDecodeError as error:
        document.fault((), f"is not UTF-8 text (byte {error.start})", "save the file as UTF-8")
        return document
    except yaml.MarkedYAMLError as error:
        line = (error.problem_mark.line if error.problem_mark else 0) + 1
        document.faults.append(
            Fault(
                file=name, line=line, message=f"is not YAML: {error.problem}", hint="quote the text or mend the indent"
            )
        )
        return document
    except yaml.YAMLError as error:
        document.fault((), f"is not YAML: {' '.join(str(error).split())}", "remove control characters from the file")
        return document
    if node is not None:
        document.data = _build(node, (), document)
    return document


def _build(node: yaml.Node, where: Location, document: Document) -> Any:
    document.lines.setdefault(where, node.start_mark.line + 1)
    if isinstance(node, yaml.MappingNode):
        return _mapping(node, where, document)
    if isinstance(node, yaml.SequenceNode):
        return [_build(child, (*where, i), document) for i, child in enumerate(node.value)]
    return _scalar(node, where, document)


def _mapping(node: yaml.MappingNode, where: Location, document: Document) -> dict[str, Any]:
    result: dict[str, Any] = {}
    for key_node, value_node in node.value:
        key = str(key_node.value)
        document.lines[(*where, key)] = key_node.start_mark.line + 1
        if key in result:
            document.fault((*where, key), f"the key `{key}` is written twice", "keep one of the two")
        result[key] = _build(value_node, (*where, key), document)
    return result


def _scalar(node: yaml.Node, where: Location, document: Document) -> Any:
    text = str(node.value)
    if node.tag == "tag:yaml.org,2002:int":
        return int(text, 10) if text.lstrip("+-").isdigit() else text
    if node.tag == "tag:yaml.org,2002:float":
        try:
            return float(text)
        except ValueError:
            document.fault(where, f"`{text}` is not a number", "write it with digits and a point")
            return None
    if node.tag == "tag:yaml.org,2002:bool":
        return _TRUTH.get(text.lower(), text)
    if node.tag == "tag:yaml.org,2002:null":
        return None
    return text
