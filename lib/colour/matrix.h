/*
 * matrix: three by three, by cofactors. Smaller systems are padded with ones on the diagonal.
 */
#ifndef CARN_MATRIX_H
#define CARN_MATRIX_H

#include <stdbool.h>

/* With a determinant nearer to 0 than this a matrix of colours has no inverse worth having. */
#define CARN_MATRIX_LEAST 1e-6

/* Transposed cofactors: the inverse times the determinant, which is returned. */
double carn_matrix_adjugate(double m[3][3], double adjugate[3][3]);

/* x with m x = r; false for a determinant nearer to 0 than least. */
bool carn_matrix_solve(double m[3][3], const double r[3], double least, double x[3]);

#endif
