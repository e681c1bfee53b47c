/* SPDX-License-Identifier: MIT */
#include "chance.h"

#include <math.h>

double nod_chance_none(double n, double watched, double silent)
{
	if (n <= 0 || watched <= 0 || silent <= 0)
		return 1;
	return pow(watched / (watched + silent), n);
}

double nod_chance_ends(double lasted, double within)
{
	if (within <= 0)
		return 0;
	return lasted <= 0 ? 1 : within / (lasted + within);
}

double nod_chance_silence(double n, double watched)
{
	return watched * (pow(1 / NOD_PROOF_CHANCE, 1 / n) - 1);
}

double nod_chance_fewer(unsigned n1, double t1, unsigned n2, double t2)
{
	unsigned n = n1 + n2;
	double p = t2 / (t1 + t2), sum = 0;

	if (t1 <= 0 || t2 <= 0)
		return 1;
	for (unsigned k = 0; k <= n2; k++)
		sum += exp(lgamma(n + 1.0) - lgamma(k + 1.0) - lgamma(n - k + 1.0) + k * log(p) +
			   (n - k) * log1p(-p));
	return fmin(1, sum);
}
