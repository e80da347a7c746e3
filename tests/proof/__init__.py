"""The proof harness: sessions that the reading's own model did not make, and what it says of them.

``python -m tests.proof run --sessions N --workers 2 --out FILE`` simulates and reads,
``python -m tests.proof report FILE`` prints the table. Nothing here uses the physics, the pins or
the reading's code to make a session; only the finished log goes to ``lanes.reading``.

    scenarios   which sessions there are: drawn by rule, written down and hashed before any run
    ball        a rigid ball by Euler's equations in the body's frame, friction as a Stribeck curve
    lane        oil as a machine lays it, and how balls take it up and carry it
    pins        strikes, leaves and deck exits from published figures
    simulate    one session: student, planted cause, what was true
    logbook     what people write down of it, with errors and gaps
    scoring     the reading's answers against what was true
    rivals      simpler ways to answer the same questions
    report      the table
    robot       the measured robot rows through the reading's core
"""
