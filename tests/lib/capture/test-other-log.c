/* SPDX-License-Identifier: MIT */
/* Logs of other tools: every form, with what it has of frames, what is passed over and what is
 * refused. Where python-can writes a form, tests/oracle holds us against it as well. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "event-text.h"

static void expect(const char *capture, const char *events)
{
	char *text = events_in(capture, strlen(capture), 0, 0);
	assert_string_equal(text, events);
	free(text);
}

static void test_asc(void **state)
{
	(void)state;
	expect("date Tue Nov 14 10:13:20.123 pm 2023\r\n"
	       "base hex  timestamps absolute\r\n"
	       "// version 9.0.0\r\n"
	       "Begin Triggerblock Tue Nov 14 10:13:20.123 pm 2023\r\n"
	       "   0.000000 Start of measurement\r\n"
	       "   0.015991 1  1A5             Rx   d 2 11 FF  Length = 0 BitCount = 64\r\n"
	       "   0.020000 2  18FEBE15x       Tx   d 0\r\n"
	       "   0.030000 1  1A5             Rx   r 8\r\n"
	       "   0.040000 1  ErrorFrame\r\n"
	       "   0.050000 1  Statistic: D 0 R 0 XD 0 XR 0 E 0 O 0 B 0.00%\r\n"
	       "   0.060000 CANFD   2 Rx         1A5                                  1 0 9 12 00 01 02 03 "
	       "04 05 06 07 08 09 0A 0B 0 0 3000 0 0 0 0 0\r\n"
	       "   0.070000 CANFD   2 Rx         1A5  Named 0 1 1  1 AA 0 0 5000\r\n"
	       "   0.080000 1  1A5             Rx   d 2 11\r\n"
	       "End TriggerBlock\r\n",
	       "15991000 can0 000001A5 [2] flags 20 dlc 0 11 FF\n"
	       "20000000 can1 98FEBE15 [0] flags 10 dlc 0\n"
	       "30000000 can0 400001A5 [8] flags 20 dlc 0\n"
	       "40000000 can0 20000000 [8] flags 00 dlc 0 00 00 00 00 00 00 00 00\n"
	       "60000000 can1 000001A5 [12] flags 25 dlc 0 00 01 02 03 04 05 06 07 08 09 0A 0B\n"
	       "70000000 can1 000001A5 [1] flags 26 dlc 0 AA\n"
	       "70000000 x.log:13:43 expected a byte\n"
	       "asc log: 0 ; 14 lines, 6 frames, 1 errors, 1 defects, 0 lost, 0 back, 0 ns\n");
	expect("base dec timestamps relative\n0.5 1 291 Rx d 2 17 255\n0.25 1 291 Rx d 0\n",
	       "500000000 can0 00000123 [2] flags 20 dlc 0 11 FF\n"
	       "750000000 can0 00000123 [0] flags 20 dlc 0\n"
	       "asc log: 0 ; 3 lines, 2 frames, 0 errors, 0 defects, 0 lost, 0 back, 0 ns\n");
}

static void test_trc(void **state)
{
	(void)state;
	expect(";##########\n;   a file\n"
	       "     1)      1059 00000300 2 00 FF\n"
	       "     2)      1060 FFFFFFFF 4 00 00 00 08 BUSHEAVY\n"
	       "     3)      1061     0123 1 RTR\n",
	       "1059000000 can0 80000300 [2] flags 00 dlc 0 00 FF\n"
	       "1061000000 can0 40000123 [1] flags 00 dlc 0\n"
	       "trc log: 0 ; 5 lines, 2 frames, 0 errors, 0 defects, 0 lost, 0 back, 0 ns\n");
	expect(";$FILEVERSION=1.1\n     1)      1059.9  Rx         0300  2  00 FF \n"
	       "     2)      1060.0  Warng  FFFFFFFF  4  00 00 00 08\n"
	       "     3)      1061.0  Tx     18FEBE15  1  7\n",
	       "1059900000 can0 00000300 [2] flags 20 dlc 0 00 FF\n"
	       "1061000000 can0 98FEBE15 [1] flags 10 dlc 0 07\n"
	       "trc log: 0 ; 4 lines, 2 frames, 0 errors, 0 defects, 0 lost, 0 back, 0 ns\n");
	expect(";$FILEVERSION=2.1\n;$COLUMNS=N,O,T,B,I,d,R,L,D\n"
	       "      1      1059.900 DT 2     0300 Rx -  2    00 FF\n"
	       "      2      1060.000 BI 1 18FEBE15 Tx -  12   00 01 02 03 04 05 06 07 08 09 0A 0B\n"
	       "      3      1061.000 ST 1          Rx -  4    00 00 00 08\n"
	       "      4      1062.000 RR 1     0300 Rx -  2\n"
	       "      5      1063.000 DT 1     0300 Rx -  2    00\n",
	       "1059900000 can1 00000300 [2] flags 20 dlc 0 00 FF\n"
	       "1060000000 can0 98FEBE15 [12] flags 17 dlc 0 00 01 02 03 04 05 06 07 08 09 0A 0B\n"
	       "1062000000 can0 40000300 [2] flags 20 dlc 0\n"
	       "1062000000 x.log:7:50 expected a byte\n"
	       "trc log: 0 ; 7 lines, 3 frames, 0 errors, 1 defects, 0 lost, 0 back, 0 ns\n");
}

static void test_csv(void **state)
{
	(void)state;
	expect("timestamp,arbitration_id,extended,remote,error,dlc,data\n"
	       "1700000000.25,0x123,0,0,0,2,Ef8=\n"
	       "1700000000.5,0x18febe15,1,1,0,3,\n"
	       "1700000001.0,0x0,0,0,1,0,\n"
	       "x,0x123,0,0,0,2,Ef8=\n",
	       "1700000000250000000 can0 00000123 [2] flags 00 dlc 0 11 FF\n"
	       "1700000000500000000 can0 D8FEBE15 [3] flags 00 dlc 0\n"
	       "1700000001000000000 can0 20000000 [8] flags 00 dlc 0 00 00 00 00 00 00 00 00\n"
	       "1700000001000000000 x.log:5:1 expected a time\n"
	       "csv log: 0 ; 5 lines, 3 frames, 1 errors, 1 defects, 0 lost, 0 back, 0 ns\n");
	/* microseconds, a column a byte, a bus */
	expect("\xEF\xBB\xBFTime Stamp,ID,Extended,Dir,Bus,LEN,D1,D2,D3,D4,D5,D6,D7,D8\r\n"
	       "166064000,0000021A,false,Rx,0,2,FE,36,,,,,,,\r\n"
	       "166065000,18FEBE15,true,Tx,1,1,07,,,,,,,,\r\n",
	       "166064000000 can0 0000021A [2] flags 00 dlc 0 FE 36\n"
	       "166065000000 can1 98FEBE15 [1] flags 10 dlc 0 07\n"
	       "csv log: 0 ; 3 lines, 2 frames, 0 errors, 0 defects, 0 lost, 0 back, 0 ns\n");
	expect("Time (ms);CAN ID;Data\n12.5;123;01 02\n13;18FEBE15;0x07\n",
	       "12500000 can0 00000123 [2] flags 00 dlc 0 01 02\n"
	       "13000000 can0 98FEBE15 [1] flags 00 dlc 0 07\n"
	       "csv log: 0 ; 3 lines, 2 frames, 0 errors, 0 defects, 0 lost, 0 back, 0 ns\n");
}

static void test_serial(void **state)
{
	(void)state;
	/* EA5F is 59999 ms: the clock begins anew behind it */
	expect("t1232AABBEA5F\nz\nT18FEBE1510700640\nr12320000\nt123\n",
	       "59999000000 can0 00000123 [2] flags 00 dlc 0 AA BB\n"
	       "59999000000 x.log:3:17 expected the adapter's time, four hexadecimal digits\n"
	       "60000000000 can0 40000123 [2] flags 00 dlc 0\n"
	       "60000000000 x.log:5:5 expected a data length\n"
	       "serial adapter log: 0 ; 5 lines, 2 frames, 0 errors, 2 defects, 0 lost, 0 back, 0 ns\n");
	expect("23:59:59.75 -> t1231AA\n00:00:00.25 -> T18FEBE15107\n",
	       "86399750000000 can0 00000123 [1] flags 00 dlc 0 AA\n"
	       "86400250000000 can0 98FEBE15 [1] flags 00 dlc 0 07\n"
	       "serial adapter log: 0 ; 2 lines, 2 frames, 0 errors, 0 defects, 0 lost, 0 back, 0 ns\n");
}

static void test_a_mark_and_padding_before_a_candump_log(void **state)
{
	(void)state;
	expect("\xEF\xBB\xBF(    0.450024) can0 123#11\n(    0.55) can0 123#11\n",
	       "450024000 can0 00000123 [1] flags 00 dlc 0 11\n"
	       "550000000 can0 00000123 [1] flags 00 dlc 0 11\n"
	       "candump log: 0 ; 2 lines, 2 frames, 0 errors, 0 defects, 0 lost, 0 back, 0 ns\n");
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_asc),
		cmocka_unit_test(test_trc),
		cmocka_unit_test(test_csv),
		cmocka_unit_test(test_serial),
		cmocka_unit_test(test_a_mark_and_padding_before_a_candump_log),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
