"""Which pieces each line of money was for."""

from stallkeep.domain.matching.advice import habit_note
from stallkeep.domain.matching.engine import reconcile
from stallkeep.domain.matching.evidence import Budget, CashTotal, Evidence, Habits, RingUp, Stub
from stallkeep.domain.matching.line_answer import Candidate, Group, LineAnswer, Weight
from stallkeep.domain.matching.money_line import MoneyLine
from stallkeep.domain.matching.pieces import RailPiece, SoldElsewhere
from stallkeep.domain.matching.questions import questions
from stallkeep.domain.matching.reconciliation import (
    Finding,
    HabitNote,
    PieceAnswer,
    Question,
    Reconciliation,
    Report,
)
from stallkeep.domain.matching.rulings import PieceRuling, Ruling

__all__ = [
    "Budget",
    "Candidate",
    "CashTotal",
    "Evidence",
    "Finding",
    "Group",
    "HabitNote",
    "Habits",
    "LineAnswer",
    "MoneyLine",
    "PieceAnswer",
    "PieceRuling",
    "Question",
    "RailPiece",
    "Reconciliation",
    "Report",
    "RingUp",
    "Ruling",
    "SoldElsewhere",
    "Stub",
    "Weight",
    "habit_note",
    "questions",
    "reconcile",
]
