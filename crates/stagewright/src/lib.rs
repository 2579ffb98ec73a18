//! Stagewright: live readings for analog signal chains written in the stage notation.
