# What the limits have to spare against the quantity that is sized: the tightest limit first, each with
# its own dashes and marks, and its name where it leaves the picture.
array hue[5] = ['#0b4f8a', '#d55e00', '#5b2a86', '#3a7d44', '#555555']
do for [i = 1 : 5] {
    set style line 300 + i linewidth 2.2 dashtype 10 + i linecolor rgb hue[i] \
        pointtype int(word('5 6 9 13 4', i)) pointsize 0.9
}
load 'size_1.gp'
if (joined) {
    plot for [i = 1 : curves] sprintf('spare_%d.dat', i) using 1:2 with linespoints linestyle 300 + i notitle
} else {
    plot for [i = 1 : curves] sprintf('spare_%d.dat', i) using 1:2 with points linestyle 300 + i notitle
}
