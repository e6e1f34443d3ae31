"""Weights of signs, written by tests/bench/calibrate.py; what they mean is said in odds.py."""

#: Where they come from.
SOURCE = "tests/bench/calibrate.py, seed 101, 6000 messages"

#: sign -> log-odds; behind it how many values with it were right and wrong, none where it was set by hand.
ESTIMATED = {
    "CODE_LABELLED": 6.9,  # 19100 right, 2982 wrong
    "CODE_LABELLED_LOOSELY": 2.3,  # 12 right, 21 wrong
    "CODE_IN_PROSE": 3.4,  # 195 right, 0 wrong
    "CODE_FAR_IN_PROSE": 1.0,  # set by hand
    "CODE_BY_SHAPE": 2.5,  # set by hand
    "CODE_BY_SHAPE_CHECKED": 6.9,  # 1085 right, 0 wrong
    "CODE_BY_SHAPE_ALONE": 2.0,  # set by hand
    "CODE_BY_DIGITS_CHECKED": 4.0,  # 385 right, 0 wrong
    "SHAPE_FITS": 1.0,  # 9535 right, 1502 wrong
    "SHAPE_FITS_IN_PROSE": 0.7,  # set by hand
    "SHAPE_MISSED": -6.9,  # 11 right, 318 wrong
    "CHECK_PASSED": 0.6,  # 8444 right, 1216 wrong
    "CHECK_FAILED": -9.0,  # set by hand
    "DOUBTFUL": 2.4,  # 1384 right, 425 wrong
    "VERY_DOUBTFUL": 0.0,  # 1 right, 267 wrong
    "LABELLED": 6.9,  # 22163 right, 8 wrong
    "LABELLED_LOOSELY": 4.0,  # 218 right, 0 wrong
    "IN_PROSE": 4.0,  # 398 right, 1 wrong
    "NAMED": 6.5,  # 633 right, 0 wrong
    "SENDER": 6.9,  # 2309 right, 0 wrong
    "TO_HEADER": 6.9,  # 4615 right, 0 wrong
    "TO_HEADER_NAME": 6.5,  # 4615 right, 0 wrong
    "TYPED_BY_SENDER": 6.6,  # 746 right, 0 wrong
    "SENDER_UNSURE": 3.0,  # set by hand
    "AGREEMENT": 2.4,  # 8746 right, 0 wrong
}
