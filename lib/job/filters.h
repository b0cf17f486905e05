/*
 * filters: the filters whose mains a program may hold beside its own, for the stages of its runs
 * (run.h). The Makefile compiles tools/NAME.c a second time for that, with main called
 * carn_NAME_main, and says which programs hold them all.
 */
#ifndef CARN_FILTERS_H
#define CARN_FILTERS_H

#define CARN_FILTERS(F)                                                                            \
    F(aim_meet, "carn-aim-meet")                                                                   \
    F(blur_average, "carn-blur-average")                                                           \
    F(crop, "carn-crop")                                                                           \
    F(curve_apply, "carn-curve-apply")                                                             \
    F(curve_neutral, "carn-curve-neutral")                                                         \
    F(curve_solve, "carn-curve-solve")                                                             \
    F(decode, "carn-decode")                                                                       \
    F(encode, "carn-encode")                                                                       \
    F(patch_find, "carn-patch-find")                                                               \
    F(sample, "carn-sample")                                                                       \
    F(score, "carn-score")                                                                         \
    F(skin_weight, "carn-skin-weight")                                                             \
    F(to_profile, "carn-to-profile")

#define CARN_FILTER_MAIN(function, program) int carn_##function##_main(int argc, char **argv);
CARN_FILTERS(CARN_FILTER_MAIN)

#define CARN_FILTER(function, program) {program, carn_##function##_main},

#endif
