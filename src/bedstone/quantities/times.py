"""Lengths of time as people say them: one rule for pages, papers, terminal and findings."""

__all__ = ["shown_minutes", "shown_span"]

_MINUTE_S = 60
_HOUR_S = 3600
_WHOLE_MINUTES_FROM_S = 1200


def shown_span(length_s: float) -> str:
    """A length of time in words: to the second below 20 minutes, else in whole minutes.

    Whole minutes are those that have passed, as on a clock: ready at 16:48 and due at 16:00 is
    48 min, however many seconds past 16:48 it is.

    Parameters
    ----------
    length_s : float
        Length of time, 0 or more. [s]

    Returns
    -------
    words : str
        The length in hours, minutes and seconds. [1]

    Examples
    --------
    >>> [shown_span(length_s) for length_s in (45, 210, 240, 2_939, 7_500)]
    ['45 s', '3 min 30 s', '4 min', '48 min', '2 h 05 min']
    """
    whole_s = round(length_s)
    hours, rest_s = divmod(whole_s, _HOUR_S)
    minutes, seconds = divmod(rest_s, _MINUTE_S)
    if hours:
        return f"{hours} h {minutes:02d} min"
    if not minutes:
        return f"{seconds} s"
    if whole_s >= _WHOLE_MINUTES_FROM_S or not seconds:
        return f"{minutes} min"
    return f"{minutes} min {seconds:02d} s"


def shown_minutes(length_s: float) -> str:
    """A length of time where seconds say nothing, such as a lateness: in whole minutes that passed.

    Parameters
    ----------
    length_s : float
        Length of time, 0 or more. [s]

    Returns
    -------
    words : str
        The length in hours and minutes. [1]

    Examples
    --------
    >>> [shown_minutes(length_s) for length_s in (43, 554, 1_176, 7_500)]
    ['less than a minute', '9 min', '19 min', '2 h 05 min']
    """
    whole_s = round(length_s)
    if whole_s < _MINUTE_S:
        return "less than a minute" if whole_s else "0 min"
    return shown_span(whole_s - whole_s % _MINUTE_S)
