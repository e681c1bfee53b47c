/* SPDX-License-Identifier: MIT */
#include "cautions.h"

#include "paragraph.h"

/* Facts of the trade (common practice, no source) but for "refit": workshop
 * texts publish 800 mA for about 30 minutes after a fuse is refitted. */
static const struct {
	unsigned jobs;    /* enum nod_job, or-ed */
	const char *text; /* plain ASCII, at most two lines of 76 columns */
} cautions[] = {
	{NOD_JOB_FUSES | NOD_JOB_PINS | NOD_JOB_ISOLATE,
	 "Airbag and belt tensioner circuits are not pulled, probed or measured: they "
	 "can fire."},
	{NOD_JOB_FUSES | NOD_JOB_PINS | NOD_JOB_CURRENT | NOD_JOB_ISOLATE,
	 "High-voltage circuits (orange) are not touched: they can kill with the car "
	 "off. They are work for licensed people."},
	{NOD_JOB_CURRENT,
	 "An ammeter in series interrupts the supply while it is fitted or its fuse "
	 "blows: modules restart. A clamp does not."},
	{NOD_JOB_CURRENT,
	 "No fused ammeter in circuit while the car is awake: unlocking or cranking "
	 "blows it, and opens the supply."},
	{NOD_JOB_BATTERY,
	 "A charging battery gives off explosive gas: no sparks, and the charger off "
	 "before its clamps are moved."},
	{NOD_JOB_FUSES | NOD_JOB_ISOLATE,
	 "Doors, bonnet and pulled fuses may set off the alarm or relock the car: "
	 "keep the key outside, latch the locks by hand first."},
	{NOD_JOB_FUSES | NOD_JOB_PINS | NOD_JOB_CURRENT | NOD_JOB_ISOLATE,
	 "Every door, key, tester or plug restarts the wait until the networks sleep; "
	 "a reading before its end proves nothing."},
	{NOD_JOB_ISOLATE,
	 "A fuse that was pulled restarts its modules' clocks: after the refit they "
	 "may draw far more for half an hour. Measure across fuses first."},
	{NOD_JOB_FUSES | NOD_JOB_PINS | NOD_JOB_BATTERY | NOD_JOB_CURRENT | NOD_JOB_ISOLATE,
	 "The vehicle maker's procedure, local rules and licensed practice come "
	 "before anything said here."},
};

void nod_cautions_print(FILE *out, unsigned jobs)
{
	for (size_t i = 0; i < sizeof(cautions) / sizeof(cautions[0]); i++)
		if (cautions[i].jobs & jobs)
			nod_paragraph_print(out, "! ", cautions[i].text);
}
