# The courses of a lesson. Every line has its own colour and its own dashes, and its name where it leaves
# the picture.
hues = '#0b4f8a #d55e00 #3d7a2a #5b2a86'
do for [i = 1 : 4] {
    set style line 200 + i linewidth 2.4 dashtype 10 + i linecolor rgb word(hues, i)
}
load 'lesson_1.gp'
plot for [i = 1 : curves] sprintf('course_%d.dat', i) using 1:2 with lines linestyle 200 + i notitle
