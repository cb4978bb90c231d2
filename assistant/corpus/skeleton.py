"""A skeleton of a machine's pack: one entry of a kind to replace, sound under the lint from the first minute."""

from __future__ import annotations

import re
from pathlib import Path

from assistant.errors import AssistantError

_NAME = re.compile(r"[a-z][a-z-]{1,30}")

FILES = {
    "machine.yaml": """\
# 1. Name, other names, what it is, and every value that a sentence refers to as {name}. A drawing.yaml may come later.
name: @Name@
aliases: [@name@]
what: [The @Name@ is a machine to be described here.]
words: [@name@]
subsystems:
  "1": supply
values:
  @key@_gap: {min: 2, max: 3, unit: mm, source: scenario}
""",
    "wiring.yaml": """\
# 2. Where each wire goes. The wires of inputs and outputs stand in signals.yaml, each once.
- {wire: "2", terminal: "XD1:2", origin: QB1, to: BG1, carries: "an example, to be replaced"}
""",
    "components.yaml": """\
# 3. Every part with a designation: where it sits, what it does, how it looks when sound, what is dangerous.
- id: QB1
  title: Isolator QB1 of the @name@
  name: @name@ isolator
  aliases: [isolator of the @name@]
  location: ["On the cabinet door of the @name@."]
  function: ["It cuts the supply of the @name@."]
  condition: ["Off, the handle takes a padlock."]
  danger: ["Its supply side stays live when it is off."]
  phrasings: [where do i lock off the @name@, which handle kills the @name@, main switch @name@ where, lock off point of the @name@]
  hazards: [electric-shock]
  source: scenario
- id: BG1
  title: Position switch BG1 of the @name@
  name: @name@ position switch
  aliases: [position switch of the @name@]
  location: ["At the guide of the @name@."]
  function: ["It tells the controller that the flag is near."]
  condition: ["The gap to the flag is {@key@_gap}."]
  phrasings: [where is the position switch of the @name@, what sees the flag on the @name@, the @name@ end sensor is where, what watches the guide of the @name@]
  hazards: []
  source: scenario
- id: XD1
  title: Terminals XD1 of the @name@
  name: @name@ terminals
  aliases: [terminals of the @name@]
  location: ["At the bottom of the cabinet of the @name@."]
  function: ["It joins the wires of the @name@."]
  condition: ["Every screw is tight."]
  phrasings: [where are the terminals of the @name@, terminal strip @name@, where do the @name@ wires land, wire one of the @name@ goes where]
  hazards: [electric-shock]
  source: scenario
""",
    "signals.yaml": """\
# 4. Each input and output, and where its state is seen.
- id: I1
  title: Input I1 of the @name@, flag near
  component: BG1
  direction: input
  terminal: "XD1:1"
  wire: "1"
  on_means: ["The flag stands before BG1."]
  off_means: ["The flag is away, or BG1 is bad."]
  see_at: ["The lamp on BG1."]
  hazards: []
  source: scenario
""",
    "codes.yaml": """\
# 5. Each code of the display: what raises it, what clears it, where to look first.
- id: "100"
  title: The @name@ sees no flag
  display: [CODE 100]
  meaning: ["BG1 did not see the flag."]
  raised_when: ["Input I1 stays off."]
  clears_when: ["Input I1 comes on."]
  causes:
    - name: Flag too far from BG1
      sign: ["The gap is wider than {@key@_gap}."]
  first: ["Look at the flag from outside.", "Lock off QB1 before a hand goes in."]
  components: [BG1]
  phrasings: [the @name@ shows a hundred, the @name@ lost its flag, no flag message on the @name@, display of the @name@ says one hundred]
  hazards: []
  source: scenario
""",
    "facts.yaml": """\
# 6. What is asked and is no part, code, fault or procedure.
- id: @name@-gap
  title: The gap at BG1 of the @name@
  phrasings: [how near must the flag of the @name@ be, what gap has the @name@ sensor, distance to the @name@ flag, sensor of the @name@ too far away]
  hazards: []
  source: scenario
  answer: ["The gap is {@key@_gap}."]
  details: ["A wider gap loses the flag."]
""",
    "parts.yaml": """\
# 7. Spare parts by what they are.
- id: @name@-switch
  title: Position switch of the @name@, spare
  spec: {text: "inductive, to be replaced"}
  fits: [BG1]
  phrasings: [spare position switch for the @name@, order a @name@ sensor, new flag sensor @name@ which type, replacement for the switch of the @name@]
  source: scenario
""",
    "procedures.yaml": """\
# 8. Work, step by step, with the state that the machine must be in.
- id: @name@-look
  title: Look at the flag of the @name@
  purpose: ["It is seen whether the flag still stands before BG1."]
  energy: stopped
  minutes: 5
  who: [An instructed person does this.]
  tools: [torch]
  parts: []
  before: ["Nothing of the @name@ is opened."]
  steps:
    - do: Look at the flag from outside.
      expect: ["It stands straight."]
      if_not: ["Have it set by an instructed person under their own lock."]
  prove:
    - do: Look at the lamp on BG1.
      expect: ["It is lit."]
  phrasings: [how do i look at the flag of the @name@, inspect the @name@ flag, eyes only check of the @name@, is the @name@ flag bent how to see]
  hazards: [entanglement]
  source: scenario
""",
    "maintenance.yaml": """\
# 9. What is done at which interval.
- id: @name@-monthly
  title: Monthly look at the @name@
  interval: {value: 1, unit: month}
  who: [An instructed person does this.]
  energy: stopped
  tasks:
    - do: Look at the flag from outside.
      limit: ["It stands straight."]
  phrasings: [monthly care of the @name@, what is due each month on the @name@, upkeep of the @name@, looking after the @name@]
  hazards: []
  source: scenario
""",
    "faults.yaml": """\
# 10. A complaint, what may cause it, the checks that tell the causes apart, the repairs.
- id: @name@-no-flag
  title: The @name@ does not see its flag
  symptom: ["The @name@ stops and waits for its flag."]
  meaning: ["Either the flag is away from BG1, or BG1 is bad."]
  causes:
    - id: flag-far
      name: Flag too far from BG1
      weight: 60
      sign: ["The gap is wider than {@key@_gap}."]
      remedy: ["Lock off QB1 and set the flag."]
    - id: switch-bad
      name: BG1 bad
      weight: 40
      sign: ["The flag stands right, and the lamp on BG1 stays dark."]
      remedy: ["Lock off QB1, prove dead and replace BG1."]
  checks:
    - id: look
      title: Where the flag stands
      energy: stopped
      minutes: 2
      do: ["Look from outside where the flag stands."]
      good: ["It stands before BG1, so BG1 is doubtful."]
      bad: ["It stands away, so it needs to be set."]
      tools: [torch]
      outcomes:
        - says: [flag stands right, it is straight, near enough]
          normal: true
        - says: [flag is bent, flag is away, too far off]
          likely: {flag-far: usually}
  repairs:
    - id: set-flag
      title: Set the flag before BG1
      minutes: 10
      energy: isolated
      cures: {flag-far: 0.95}
      tools: [feeler gauge]
    - id: new-switch
      title: Replace BG1
      minutes: 20
      energy: isolated
      cures: {switch-bad: 0.95}
      parts: [@name@/part/@name@-switch]
      tools: [screwdriver]
  proof: {minutes: 2, energy: running, passes_anyway: 0.1}
  afterwards: ["Run the @name@ once and see that the lamp on BG1 comes on."]
  codes: ["100"]
  components: [BG1]
  phrasings: [the @name@ waits for its flag, the @name@ will not see the flag, flag not found on the @name@, the @name@ stops at the flag every time]
  hazards: [entanglement]
  source: scenario
""",
}
"""File name -> text, in the order in which they are filled in."""


def new_pack(root: Path, name: str) -> Path:
    """Write the skeleton and return its folder.

    Raises:
        AssistantError: a bad name, a folder that exists, or a place that cannot be written.

    """
    if not _NAME.fullmatch(name):
        raise AssistantError(
            f"`{name}` is no name for a pack.",
            "Use 2 to 31 small letters and hyphens, a letter first (a digit would read as a figure).",
        )
    folder = root / "machines" / name
    try:
        folder.mkdir(parents=True)
        for file, text in FILES.items():
            filled = text.replace("@name@", name).replace("@Name@", name.capitalize())
            (folder / file).write_text(filled.replace("@key@", name.replace("-", "_")), encoding="utf-8")
    except FileExistsError as error:
        raise AssistantError(f"{folder} exists already.", "Choose another name; nothing was changed.") from error
    except OSError as error:
        raise AssistantError(
            f"{folder} cannot be written: {error.strerror}.",
            "Choose a folder of your own as `knowledge` in the settings.",
        ) from error
    return folder
