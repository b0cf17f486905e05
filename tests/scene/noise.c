/*
 * noise: chance that is a function of place and seed alone.
 *
 * Nothing keeps a state, so that any pixel can be made by itself and always comes out the same.
 */
#include "scene.h"

#include <math.h>

/* The finalizer of splitmix64 (S. Vigna, public domain; constants from memory). */
uint64_t scene_mix(uint64_t z)
{
    z = (z ^ (z >> 30)) * UINT64_C(0xbf58476d1ce4e5b9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94d049bb133111eb);
    return z ^ (z >> 31);
}

uint64_t scene_hash(uint64_t seed, int64_t x, int64_t y)
{
    return scene_mix(scene_mix(seed + (uint64_t)x * UINT64_C(0x9e3779b97f4a7c15)) + (uint64_t)y);
}

double scene_chance(uint64_t seed, int64_t x, int64_t y)
{
    return (double)(scene_hash(seed, x, y) >> 11) * 0x1p-52 - 1;
}

/* Near normal: the sum of four 16-bit parts of one hash. */
double scene_normal(uint64_t seed, int64_t x, int64_t y)
{
    uint64_t h = scene_hash(seed, x, y);
    double sum = 0;
    for (int i = 0; i < 4; i++)
        sum += (double)((h >> (16 * i)) & 0xffff) + 0.5;
    return (sum / 65536 - 2) * 1.7320508;
}

/* Chance at the corners of a unit square, smoothly joined within it. */
double scene_cloud(uint64_t seed, double x, double y)
{
    double fx = floor(x), fy = floor(y), tx = x - fx, ty = y - fy;
    int64_t ix = (int64_t)fx, iy = (int64_t)fy;
    tx = tx * tx * (3 - 2 * tx);
    ty = ty * ty * (3 - 2 * ty);
    double top = scene_chance(seed, ix, iy) * (1 - tx) + scene_chance(seed, ix + 1, iy) * tx;
    double low =
        scene_chance(seed, ix, iy + 1) * (1 - tx) + scene_chance(seed, ix + 1, iy + 1) * tx;
    return top * (1 - ty) + low * ty;
}
