"""The invented shop's terms of warranty, with examples worked by hand: every kind of rule that a term can have."""

from __future__ import annotations

COVERAGE = """\
# What the makers cover. start = "purchase" counts from the registration, marked as assumed, where no purchase is known.
# The [[example]] tables at the end are worked by hand; `counterfoil coverage check` compares every answer with them.

[[term]]
maker = "Vesterlyng"
part = "machine"
years = 5
start = "purchase"
holder = "any"
note = "Frame, drive and needle bar."

[[term]]
maker = "Vesterlyng"
part = "electronics"
years = 2
start = "purchase"
holder = "any"
note = "Main board, screen, sensors."

[[term]]
maker = "Vesterlyng"
model = "Orkan 720"
part = "embroidery unit"
years = 3
months = 6
start = "registration"
holder = "first"
note = "Only for the first holder, and only once registered."

[[term]]
maker = "Kestrelle"
part = "machine"
years = 5
start = "registration"
holder = "first"

[[term]]
maker = "Kestrelle"
part = "motor"
years = 10
start = "registration"
holder = "first"
note = "Ten years on the motor for registered machines."

[[term]]
maker = "Kestrelle"
part = "electronics"
years = 2
start = "purchase"
holder = "any"
proof = ["invoice", "confirmation"]

[[term]]
maker = "Orvando"
part = "machine"
years = 3
start = "purchase"
holder = "any"

[[term]]
maker = "Orvando"
part = "electronics"
years = 1
months = 6
start = "purchase"
holder = "any"

# Three years for the hook of machines registered within four weeks of the purchase, else one.
[[term]]
maker = "Orvando"
part = "hook"
years = 3
start = "purchase"
holder = "any"
register_within_days = 28
else_years = 1

# What an activated upgrade brings with it is covered from its activation on.
[[term]]
maker = "Vesterlyng"
part = "upgrade card"
months = 6
start = "activation"
holder = "any"

# Any other maker: what the shop itself promises.
[[term]]
part = "machine"
years = 2
start = "purchase"
holder = "any"
note = "The shop's own promise."

[[example]]            # five years to the day
maker = "Vesterlyng"
part = "machine"
purchase = 2021-11-25
on = 2026-11-25
covered = true
last_day = 2026-11-25

[[example]]            # the day after the last one
maker = "Vesterlyng"
part = "machine"
purchase = 2021-11-24
on = 2026-11-25
covered = false

[[example]]            # bought on 29 February: the last day is the end of a shorter February
maker = "Vesterlyng"
part = "electronics"
purchase = 2024-02-29
on = 2026-02-28
covered = true
last_day = 2026-02-28

[[example]]            # 31 August and half a year: the end of February
maker = "Orvando"
part = "electronics"
purchase = 2024-08-31
on = 2026-03-01
covered = false
last_day = 2026-02-28

[[example]]            # no purchase on record: the registration stands in
maker = "Vesterlyng"
part = "machine"
registration = 2025-01-07
on = 2026-11-25
covered = true
last_day = 2030-01-07

[[example]]            # the first holder's term ends the day before the machine changes hands
maker = "Kestrelle"
part = "motor"
registration = 2022-05-10
changed_hands = 2025-06-10
on = 2025-06-10
covered = false
last_day = 2025-06-09

[[example]]            # registered on the 28th day
maker = "Orvando"
part = "hook"
purchase = 2024-02-01
registration = 2024-02-29
on = 2026-11-25
covered = true
last_day = 2027-02-01

[[example]]            # registered a day too late
maker = "Orvando"
part = "hook"
purchase = 2024-02-01
registration = 2024-03-01
on = 2026-11-25
covered = false
last_day = 2025-02-01

[[example]]            # nobody knows whether it was registered, and the two terms differ on that day
maker = "Orvando"
part = "hook"
purchase = 2024-02-01
on = 2026-11-25
covered = "unknown"

[[example]]            # a term of the model, from the registration
maker = "Vesterlyng"
model = "Orkan 720"
part = "embroidery unit"
registration = 2023-05-31
on = 2026-11-30
covered = true
last_day = 2026-11-30

[[example]]            # from the activation, not from the registration before it
maker = "Vesterlyng"
part = "upgrade card"
registration = 2026-01-02
activation = 2026-06-15
on = 2026-11-25
covered = true
last_day = 2026-12-15

[[example]]            # a maker of whom no term is known: the shop's own promise
maker = "Ostrel"
part = "machine"
purchase = 2025-03-31
on = 2026-11-25
covered = true
last_day = 2027-03-31
"""
