"""Small notebooks for the tests."""

import nbformat


def notebook(parameters, *later, tag="parameters"):
    """Return a notebook of a tagged cell and later code cells."""
    cells = [nbformat.v4.new_code_cell(parameters, metadata={"tags": [tag]} if tag else {})]
    return nbformat.v4.new_notebook(
        cells=cells + [nbformat.v4.new_code_cell(source) for source in later]
    )


def saved(path, *sources, tag="parameters"):
    """Save a notebook of a tagged cell and later code cells; return its path."""
    nbformat.write(notebook(*sources, tag=tag), path)
    return path
