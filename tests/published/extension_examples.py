"""PlanResult examples of averaged degree-days in land-grant extension publications. All °F and °F·d."""

# Nugent, Michigan State University, "Calculating growing degree days": the plain mean.
# low, high, base, answer.
MICHIGAN = (
    (40, 65, 50, 2.5),
    (35, 60, 50, 0.0),  # shown there as the weakness of the mean: the high is well above the base
)

# Ohio State University Extension (Karhoff 2023; also fact sheet AGF-101): 86/50 method. low, high, answer.
OHIO = ((63, 87, 24.5),)

# Waushara Argus (Wisconsin), 2018: 86/50 method, three days and their total. low, high, answer.
WISCONSIN = ((65, 90, 25.5), (46, 72, 11.0), (42, 63, 6.5))
WISCONSIN_TOTAL = 43.0

# Iowa State University, Agronomy 541 lesson 2b: 86/50 method, and the most that one day can give.
IOWA = ((50, 70, 10.0),)
IOWA_MOST = 36.0

# UC IPM, University of California, citrus table of degree-days: a day of mean 64 °F, base 53 °F.
CALIFORNIA_MEAN, CALIFORNIA_BASE, CALIFORNIA = 64.0, 53.0, 11.0
