"""The cautions that papers and pages of an outing show: title and text."""

CAUTIONS = (
    (
        "Power lines",
        "Look up before anything goes up. Keep masts, wires and whips so far from power lines that nothing can touch "
        "or come near them, even when it falls or a line is thrown. Contact kills. Do not operate below them.",
    ),
    (
        "Lightning",
        "Stop when thunder is heard or clouds tower up: take the antenna down only if there is time before the storm, "
        "else leave it, disconnect nothing by hand, and go into a building or a closed car.",
    ),
    (
        "Radio-frequency exposure",
        "Keep people, yourself included, at the distance that your rules and your own reckoning ask for, and away from "
        "every bare part of the antenna and its counterpoise while transmitting. The limits of your country apply.",
    ),
    (
        "Batteries",
        "Fuse each pack close to its positive terminal. Do not short, crush or overcharge it, and do not charge it in "
        "frost beyond what its maker allows; do not join packs of different voltage. A swollen, hot or damaged pack is "
        "not used. The maker's data decide.",
    ),
    (
        "Mains and chargers",
        "Use mains chargers and supplies only dry, under cover, behind a residual-current device, and as their makers "
        "say. Work on mains wiring is for licensed electricians.",
    ),
    (
        "Heat, cold and ground",
        "Take water, shade or warmth for longer than planned; a battery gives less in the cold. Mark guys, radials and "
        "wires so that nobody trips, and tell somebody where you are and when you will be back.",
    ),
    (
        "Rules",
        "The licence, the frequency limits, the rules of the place and the word of its warden come before anything "
        "said here, which is a reminder and not advice for your case.",
    ),
)
