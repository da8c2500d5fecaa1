"""The glossary and the table contracts as Markdown: documentation made from the code cannot fall behind."""

from collections.abc import Mapping

from planner.tables import FILES, STEPS, Table
from planner.words import COLUMNS, TERMS


def glossary() -> str:
    """Return the terms and the columns as two Markdown tables."""
    words = [f"| {word} | {meaning} |" for word, meaning in TERMS.items()]
    columns = [f"| {name} | {column.unit} | {column.meaning} |" for name, column in sorted(COLUMNS.items())]
    return "\n".join(
        ["| word | means |", "| --- | --- |", *words, "", "| column | unit | means |", "| --- | --- | --- |", *columns]
    )


def contracts() -> str:
    """Return the contracts of the maker's files and of the tables between the steps as two Markdown tables."""
    return f"{_contracts(FILES)}\n\n{_contracts(STEPS)}"


def _contracts(tables: Mapping[str, Table]) -> str:
    rows = []
    for table in tables.values():
        columns = ", ".join([*(f"**{name}**" for name in table.needed), *table.optional])
        rows.append(f"| {table.name} | {table.row} | {' + '.join(table.key) or '–'} | {columns} |")
    return "\n".join(["| table | one row is | key | columns (bold: needed) |", "| --- | --- | --- | --- |", *rows])


PARTS = {"glossary": glossary, "contracts": contracts}


def with_reference(text: str) -> str:
    r"""Return a Markdown text with the generated parts between its `<!-- name -->` marks made anew.

    >>> print(with_reference("a\n<!-- none -->\nb"))
    a
    <!-- none -->
    b
    """
    for name, part in PARTS.items():
        begin, end = f"<!-- {name} -->\n", f"\n<!-- end of {name} -->"
        if begin in text and end in text:
            text = text[: text.index(begin) + len(begin)] + part() + text[text.index(end) :]
    return text


def main() -> None:
    """Renew the generated parts of DEVELOPERS.md in the folder the command is run in."""
    from pathlib import Path

    file = Path("DEVELOPERS.md")
    file.write_text(with_reference(file.read_text(encoding="utf-8")), encoding="utf-8")


if __name__ == "__main__":
    main()
