"""A session in an editor that lives in a terminal: the steps of case.py by its keys, what it shows by its screen."""

from case import Case, Place, judge, seen, step_text
from terminal import Terminal


class Keys:
    """What is pressed for each thing that is asked; an editor says it in a class of its own."""

    # Whether the editor writes messages into the lines that they speak of.
    tells_in_line = False

    def __init__(self, case: Case, terminal: Terminal):
        self.case, self.terminal = case, terminal
        self.text = case.file.read_text().splitlines()

    def rows(self) -> list:
        """The rows of the screen that show text, without what the editor puts beside it."""
        return self.terminal.rows()

    def replace(self, line: int, text: str) -> None:
        """Makes a line another by typing what differs."""
        old, self.text[line] = self.text[line], text
        self.change(Place(line, same(old, text)), len(middle(old, text)), middle(text, old))

    def change(self, place: Place, length: int, text: str) -> None:
        """Types a text in the place of so many characters."""
        raise NotImplementedError

    def go(self, place: Place) -> None:
        """Goes to a place."""
        raise NotImplementedError

    def hover(self) -> None:
        """Asks what stands where the cursor is."""
        raise NotImplementedError

    def dismiss(self) -> None:
        """Closes what was opened."""
        self.terminal.press("escape", pause=0.5)

    def problems(self) -> None:
        """Shows the messages."""

    def definition(self) -> None:
        """Goes to where that is, from where it is mentioned."""
        raise NotImplementedError

    def at_line(self, line: int) -> bool:
        """Whether the cursor is in a line."""
        raise NotImplementedError

    def format(self) -> None:
        """Lays the design out and writes the file."""
        raise NotImplementedError

    def leave(self) -> None:
        """Leaves the editor without writing."""
        raise NotImplementedError


def same(one: str, other: str) -> int:
    """How many characters two lines have in common from the left."""
    return next((at for at, (a, b) in enumerate(zip(one, other)) if a != b), min(len(one), len(other)))


def middle(one: str, other: str) -> str:
    """What of a line is not in the other, between what both have at their ends."""
    left = same(one, other)
    right = same(one[left:][::-1], other[left:][::-1])
    return one[left : len(one) - right]


def run(name: str, case: Case, keys: Keys, formats: bool = True) -> None:
    """Takes the steps, asks the questions, judges."""
    terminal, wrong, answers = keys.terminal, [], []

    def picture(of):
        (case.folder / f"screen-{of}.txt").write_text(terminal.text() + "\n")

    for number, step in enumerate(case.steps, start=1):
        if step.line is not None:
            keys.replace(step.line, step.text)
        answer = {"name": step.name, "hints": [], "problems": []}
        if step.hints is not None:
            terminal.until(lambda _: not seen(case, step, keys.rows(), keys.tells_in_line))
            faults = seen(case, step, keys.rows(), keys.tells_in_line)
            wrong += faults
            answer["hints"] = step.hints if not faults else []
        picture(number)
        keys.problems()
        messages = [message for _, message in step.problems]
        terminal.until(lambda _: all(shown(message, terminal.rows()) for message in messages))
        missing = [message for message in messages if not shown(message, terminal.rows())]
        wrong += [f"{step.name}: “{message}” is not told" for message in missing]
        answer["problems"] = step.problems if not missing else []
        if messages:
            picture(f"{number}-problems")
        keys.dismiss()
        print(f"{step.name}: {len(answer['hints'])} hints, {len(answer['problems'])} problems seen", flush=True)
        answers.append(answer)

    asked = {"hover": "", "definition": -1, "formatted": []}
    keys.go(case.part)
    keys.hover()
    terminal.shows(case.told)
    asked["hover"] = terminal.text()
    picture("hover")
    keys.dismiss()
    keys.go(case.mention)
    keys.definition()
    if terminal.until(lambda _: keys.at_line(case.part.line)):
        asked["definition"] = case.part.line
    picture("definition")
    if formats:
        keys.replace(case.part.line, case.untidy)
        keys.format()
        terminal.until(lambda _: case.file.read_text().splitlines() == case.tidy)
        asked["formatted"] = case.file.read_text().splitlines()
        picture("format")
    wrong += case.wrong_answers(asked, formats)
    keys.leave()
    if not terminal.left():
        wrong.append("the editor did not end")
    judge(name, case, answers, wrong)


def shown(message: str, rows: list) -> bool:
    """Whether a message is on the screen, though it may be wrapped in a window of its own."""
    from case import squeezed

    # A window stands beside other text, so each piece of a wrapped message is looked for by itself, in order.
    rest = squeezed(message)
    for row in rows:
        row = squeezed(row)
        length = next((n for n in range(min(len(rest), len(row)), 0, -1) if rest[:n] in row), 0)
        if length >= min(12, len(rest)):
            rest = rest[length:]
        if not rest:
            return True
    return False
