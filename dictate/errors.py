"""The one error that reaches the user."""


class DictateError(Exception):
    """Something a person can put right; its text is one sentence that says how."""


class CaseExistsError(DictateError):
    """There is a case of that id already."""
