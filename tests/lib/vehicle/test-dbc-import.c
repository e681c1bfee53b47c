/* SPDX-License-Identifier: MIT */
/* DBC files, all invented here: what of them arrives in the vehicle file, what is passed
 * over, what is refused and where. What the statements mean: the reader of cantools
 * (github.com/cantools/cantools, dbc.py), which many files in use were read with. */
#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "dbc-import.h"

static char notes[2000];

static void take_note(void *context, const char *text)
{
	(void)context;
	strncat(notes, text, sizeof(notes) - strlen(notes) - 2);
	strcat(notes, "\n");
}

static struct nod_vehicle *import(const char *text, size_t length, const char *network,
				  struct nod_error *err)
{
	const struct nod_dbc_import how = {
		.network = network, .interface = network ? "can0" : NULL, .note = take_note};

	notes[0] = 0;
	return nod_dbc_import(text, length, "car.dbc", &how, err);
}

static void gives_on(const char *network, const char *dbc, const char *yaml)
{
	struct nod_error err = {""};
	struct nod_vehicle *v = import(dbc, strlen(dbc), network, &err);
	char *text;
	size_t size;

	assert_string_equal(err.text, "");
	assert_non_null(v);
	FILE *out = open_memstream(&text, &size);
	assert_int_equal(nod_vehicle_write(v, out), 0);
	fclose(out);
	assert_string_equal(text, yaml);
	free(text);
	nod_vehicle_free(v);
}

static void gives(const char *dbc, const char *yaml)
{
	gives_on(NULL, dbc, yaml);
}

static void test_all_of_a_file(void **state)
{
	(void)state;
	gives_on(
		"body",
		"VERSION \"1\" // a remark\n\nNS_ :\n\tNS_DESC_\n\tCM_\n\tBA_DEF_\n\tSG_MUL_VAL_\n\n"
		"BS_:\n\nBU_: Tailgate Roof Spare\n"
		"VAL_TABLE_ States 1 \"on\" 0 \"off\" ;\n\n"
		"BO_ 1048 TailgateStatus: 8 Tailgate\n"
		" SG_ TailgateSwitch : 37|1@1+ (1,0) [0|1] \"\"  Roof,Spare\n"
		" SG_ Supply : 7|12@0+ (0.01,-1.5) [0|40] \"V\" Vector__XXX\n"
		" SG_ Page M : 48|4@1+ (1,0) [0|0] \"\" Roof\n"
		" SG_ Inside m1 : 56|8@1- (0.5,-40) [-40|85] \"degC\"\n\n"
		"BO_ 2566834709 Diagnosis: 8 Vector__XXX\n\n"
		"BO_TX_BU_ 2566834709 : Roof,Spare;\n"
		"EV_ Knob: 0 [0|1] \"\" 0 1 DUMMY_NODE_VECTOR0 Vector__XXX;\n"
		"CM_ \"of the whole file\";\n"
		"CM_ BU_ Roof \"in the\n roof \\\"lining\\\"\";\n"
		"CM_ BO_ 1048 \"of the tailgate\";\n"
		"CM_ SG_ 1048 TailgateSwitch \"in the latch\";\n"
		"CM_ EV_ Knob \"none\";\n"
		"BA_DEF_ BO_ \"GenMsgCycleTime\" INT 0 10000;\n"
		"BA_DEF_ BO_ \"GenMsgSendType\" ENUM \"cyclic\",\"IfActive\",\"NoMsgSendType\";\n"
		"BA_DEF_ \"Baudrate\" INT 0 1000000;\n"
		"BA_DEF_ SG_ \"Rate\" FLOAT -1E-05 1E+5;\n"
		"BA_DEF_ BU_ \"Key\" HEX 0x0 0xFF;\n"
		"BA_DEF_DEF_ \"GenMsgCycleTime\" 0;\n"
		"BA_DEF_DEF_ \"GenMsgSendType\" \"NoMsgSendType\";\n"
		"BA_DEF_DEF_ \"Baudrate\" 250000;\n"
		"BA_ \"Baudrate\" 125000;\n"
		"BA_ \"GenMsgCycleTime\" BO_ 1048 100;\n"
		"BA_ \"GenMsgSendType\" BO_ 1048 1;\n"
		"BA_ \"Rate\" SG_ 1048 Supply 1.5e-3;\n"
		"VAL_ 1048 TailgateSwitch 0 \"closed\" 1 \"open\" ;\n"
		"VAL_ Knob 0 \"left\" ;\n"
		"SIG_GROUP_ 1048 Group 1 : TailgateSwitch Supply;\n",
		"networks:\n  body:\n    interfaces: [can0]\n    bitrate: 125000\n"
		"    management:\n      scheme: unknown\n"
		"modules:\n  Tailgate:\n    networks: [body]\n    ids: [418]\n"
		"  Roof:\n    networks: [body]\n    comment: \"in the roof \\\"lining\\\"\"\n"
		"  Spare:\n    networks: [body]\n"
		"messages:\n  TailgateStatus:\n    id: 418\n    networks: [body]\n    length: 8\n"
		"    period: 100 ms\n    sent: IfActive\n    comment: of the tailgate\n    signals:\n"
		"      TailgateSwitch: { at: byte 4 bit 5, values: { 0: closed, 1: open }, "
		"comment: in the latch }\n"
		"      Supply: { at: byte 0 bit 7, bits: 12, byte order: big, factor: 0.01, "
		"offset: -1.5, unit: V }\n"
		"      Page: { at: byte 6 bit 0, bits: 4 }\n"
		"      Inside: { at: byte 7 bit 0, bits: 8, type: signed, factor: 0.5, offset: -40, "
		"unit: degC, when: { Page: [1] } }\n"
		"  Diagnosis:\n    id: 18FECA15\n    networks: [body]\n    length: 8\n"
		"    senders: [Roof, Spare]\n");
}

static void test_what_selects(void **state)
{
	(void)state;
	gives("BU_:\nBO_ 1 Nested: 8 Vector__XXX\n"
	      " SG_ Deep m1 : 24|8@1- (1,0) [0|0] \"\" Vector__XXX\n"
	      " SG_ Middle m2M : 8|8@1+ (1,0) [0|0] \"\" Vector__XXX\n"
	      " SG_ Wide m0 : 16|8@1+ (1,0) [0|0] \"\" Vector__XXX\n"
	      " SG_ Top M : 0|8@1+ (1,0) [0|0] \"\" Vector__XXX\n"
	      "SG_MUL_VAL_ 1 Deep Middle 1-1;\nSG_MUL_VAL_ 1 Middle Top 2-2;\n"
	      "SG_MUL_VAL_ 1 Wide Top 0-1, 5-9 ;\n",
	      "messages:\n  Nested:\n    id: 001\n    length: 8\n    signals:\n"
	      "      Deep: { at: byte 3 bit 0, bits: 8, type: signed, when: { Middle: [1] } }\n"
	      "      Middle: { at: byte 1 bit 0, bits: 8, when: { Top: [2] } }\n"
	      "      Wide: { at: byte 2 bit 0, bits: 8, when: { Top: [0-1, 5-9] } }\n"
	      "      Top: { at: byte 0 bit 0, bits: 8 }\n");
	gives("BO_ 1 A: 8 X\n SG_ Lost m1 : 0|8@1+ (1,0) [0|0] \"\" X\n",
	      "modules:\n  X:\n    ids: [001]\nmessages:\n  A:\n    id: 001\n    length: 8\n"
	      "    signals:\n      Lost: { at: byte 0 bit 0, bits: 8 }\n");
	assert_non_null(strstr(notes, "Lost of A is multiplexed, but nothing selects it"));
}

/* VFrameFormat J1939PG: known by its PGN. Addresses by NmStationAddress. */
static void test_j1939(void **state)
{
	(void)state;
	gives_on(
		"drive",
		"BU_: Engine Brake Body\n"
		"BO_ 2364540158 EEC1: 8 Engine\n"     /* 0CF004FE */
		"BO_ 2348811521 ToOne: 8 Brake\n"     /* 0C000501 */
		"BO_ 2348811522 ToOneToo: 8 Engine\n" /* 0C000502 */
		"BO_ 2566834687 Any: 8 Body\n"        /* 18FEC9FF: of no address */
		"BO_ 2147483649 Plain: 8 Body\n"
		"BA_DEF_ BO_ \"VFrameFormat\" ENUM \"StandardCAN\",\"ExtendedCAN\",\"reserved\","
		"\"J1939PG\";\n"
		"BA_DEF_ BU_ \"NmStationAddress\" INT 0 255;\n"
		"BA_DEF_DEF_ \"VFrameFormat\" \"J1939PG\";\nBA_DEF_DEF_ \"NmStationAddress\" 254;\n"
		"BA_ \"NmStationAddress\" BU_ Engine 0;\nBA_ \"NmStationAddress\" BU_ Brake 0;\n"
		"BA_ \"VFrameFormat\" BO_ 2147483649 1;\n",
		"networks:\n  drive:\n    interfaces: [can0]\n    management:\n      scheme: j1939\n"
		"modules:\n  Engine:\n    networks: [drive]\n    source address: [00]\n"
		"  Brake:\n    networks: [drive]\n    ids: [0C000501]\n"
		"  Body:\n    networks: [drive]\n    ids: [18FEC9FF, 00000001]\n"
		"messages:\n"
		"  EEC1:\n    id: 00F00400/03FFFF00\n    networks: [drive]\n    length: 8\n"
		"  ToOne:\n    id: 00000001/03FF00FF\n    networks: [drive]\n    length: 8\n"
		"  ToOneToo:\n    id: 00000002/03FF00FF\n    networks: [drive]\n    length: 8\n"
		"  Any:\n    id: 00FEC900/03FFFF00\n    networks: [drive]\n    length: 8\n"
		"  Plain:\n    id: 00000001\n    networks: [drive]\n    length: 8\n");
	assert_non_null(strstr(notes, "Brake has the network-management address of another"));
}

static void test_names(void **state)
{
	(void)state;
	gives("BU_: A a\nBO_ 1 Same: 1 A\n SG_ s : 0|1@1+ (1,0) [0|0] \"\" A\n"
	      " SG_ S : 1|1@1+ (1,0) [0|0] \"\" A\n SG_ t : 2|1@1+ (1,0) [0|0] \"\" A\n"
	      "BO_ 2 Same: 1 A\nBO_ 3 Short: 0 A\n"
	      "BA_DEF_ BO_ \"SystemMessageLongSymbol\" STRING ;\n"
	      "BA_ \"SystemMessageLongSymbol\" BO_ 3 \"A_much_longer_name_than_thirty_two_characters\";\n"
	      "BA_ \"SystemSignalLongSymbol\" SG_ 1 t \"Long_signal\";\n"
	      "BA_ \"SystemNodeLongSymbol\" BU_ A \"Long_node\";\n",
	      "modules:\n  Long_node:\n    ids: [001, 002, 003]\n"
	      "messages:\n  Same:\n    id: 001\n    length: 1\n    signals:\n"
	      "      s: { at: byte 0 bit 0 }\n      S (2): { at: byte 0 bit 1 }\n"
	      "      Long_signal: { at: byte 0 bit 2 }\n"
	      "  Same (002):\n    id: 002\n    length: 1\n"
	      "  A_much_longer_name_than_thirty_two_characters:\n    id: 003\n    length: 0\n");
}

/* Of a long symbol as much as a map takes, whole characters. */
static void test_long_names(void **state)
{
	(void)state;
	gives("BO_ 256 M: 1 Vector__XXX\n SG_ S : 0|8@1+ (1,0) [0|0] \"\" Vector__XXX\n"
	      "BA_DEF_ SG_ \"SystemSignalLongSymbol\" STRING ;\n"
	      "BA_ \"SystemSignalLongSymbol\" SG_ 256 S "
	      "\"0123456789012345678901234567890123456789012345678901234567890123456789012345678\u00fcx\";\n",
	      "messages:\n  M:\n    id: 100\n    length: 1\n    signals:\n      "
	      "012345678901234567890123456789012345678901234567890123456789012345678901234567"
	      "8: { at: byte 0 bit 0, bits: 8 }\n");
}

static void test_what_is_generous(void **state)
{
	(void)state;
	/* CRLF, a byte order mark, no blanks and many, no receivers, no sender, remarks of both kinds */
	gives("\xEF\xBB\xBFVERSION \"\"\r\nBS_ :\r\nBU_:\r\n/* none */BO_ 5 A:8\r\n"
	      "SG_ x:0|8@1-(+1,-0)[-1E3|1.5e+02]\"\"\r\nSG_  y  :  8|8 @ 1 +  ( .5 , 1. ) [ | ] \"%\"  X , Y\r\n"
	      "UNKNOWN_ 1 2 3;\r\n;\r\n",
	      "messages:\n  A:\n    id: 005\n    length: 8\n    signals:\n"
	      "      x: { at: byte 0 bit 0, bits: 8, type: signed }\n"
	      "      y: { at: byte 1 bit 0, bits: 8, factor: 0.5, offset: 1, unit: \"%\" }\n");
	/* the symbols in one line, and none; statements right behind them */
	gives("NS_ : NS_DESC_ CM_ BA_DEF_ VAL_ SG_MUL_VAL_ BS_: BU_: A\nBO_ 1 M: 1 A\n",
	      "modules:\n  A:\n    ids: [001]\nmessages:\n  M:\n    id: 001\n    length: 1\n");
	gives("NS_ :\nBU_: A\nNS_ :\n\tCM_\n\tVAL_\nCM_ BU_ A \"text\";\nBO_ 1 M: 1 A\n",
	      "modules:\n  A:\n    ids: [001]\n    comment: text\nmessages:\n  M:\n    id: 001\n"
	      "    length: 1\n");
	/* signals without a message; an ID twice; too many bits; details of what is not there */
	gives("BO_ 3221225472 VECTOR__INDEPENDENT_SIG_MSG: 0 Vector__XXX\n"
	      " SG_ free : 0|8@1+ (1,0) [0|0] \"\" Vector__XXX\n"
	      "BO_ 1 A: 64 X\n SG_ long : 0|65@1+ (1,0) [0|0] \"\" X\n"
	      " SG_ next : 65|1@1+ (1,0) [0|0] \"\" X\nBO_ 1 B: 8 X\nBO_ 4096 C: 8 Vector__XXX\n"
	      "CM_ SG_ 9 no \"\";\nVAL_ 1 no 0 \"\" ;\nBA_ \"x\" BU_ Nobody 1;\nSIG_VALTYPE_ 1 no : 1;\n",
	      "modules:\n  X:\n    ids: [001]\nmessages:\n"
	      "  A:\n    id: 001\n    length: 64\n    signals:\n      next: { at: byte 8 bit 1 }\n"
	      "  C:\n    id: 00001000\n    length: 8\n");
	assert_string_equal(notes,
			    "car.dbc:4:6: long of A has 65 bits: left out, above 64 nothing is "
			    "decoded\n"
			    "car.dbc:6: B has the ID of a message before it: left out\n"
			    "car.dbc:7: C has a standard ID above 7FF: taken as a 29-bit one\n");
}

#define TWO_MODULES(first, second) \
	"modules:\n  A:\n    comment: " first "\n  B:\n    comment: " second "\n"

/* What writers other than the usual ones leave out or put in. */
static void test_what_is_forgiven(void **state)
{
	(void)state;
	/* a backslash before the closing quote, and quotes that are escaped */
	gives("BU_: A B\nCM_ BU_ A \"in D:\\\";\nCM_ BU_ B \"say \\\"x\\\"; so\";\n",
	      TWO_MODULES("\"in D:\\\\\"", "\"say \\\"x\\\"; so\""));
	/* no semicolon where the next statement begins a line */
	gives("BU_: A B\nBA_DEF_ \"x\" INT 0 1\nCM_ BU_ A \"a\"\nCM_ BU_ B \"b\"\nBA_ \"x\" 1;\n\x1A",
	      TWO_MODULES("a", "b"));
	/* lines that end in CR; all symbols in one line; a section of others behind receivers */
	gives("NS_ : CAT_ FILTER BA_ BS_: BU_: A B\r// \rCM_ BU_ A \"a\";\r\rCM_ BU_ B \"b\";\r",
	      TWO_MODULES("a", "b"));
	gives("BO_ 1 M: 1 Vector__XXX\n SG_ s M : 0|4@1+ (1,0) [0|0] \"\" A,\nB\n"
	      " SG_ p m1 : 4|4@1+ (1,0) [0|0] \"\" A\nMINE_ 1 \"x\";\nSG_MUL_VAL_ 1 p s 1 - 2, 4 -5;\n",
	      "messages:\n  M:\n    id: 001\n    length: 1\n    signals:\n"
	      "      s: { at: byte 0 bit 0, bits: 4 }\n"
	      "      p: { at: byte 0 bit 4, bits: 4, when: { s: [1-2, 4-5] } }\n");
}

static void test_values(void **state)
{
	(void)state;
	gives("BO_ 1 A: 8 Vector__XXX\n SG_ s : 0|8@1- (1,0) [0|0] \"\" Vector__XXX\n"
	      " SG_ f : 8|32@1- (1,0) [0|0] \"\" Vector__XXX\n"
	      " SG_ d : 0|64@1- (1,0) [0|0] \"\" Vector__XXX\n"
	      " SG_ u : 0|64@1+ (1,0) [0|0] \"\" Vector__XXX\n"
	      "VAL_ 1 s -5 \"minus\" 255 \"as bits\" 1 \"\" 2 \"say \\\"two\\\"\" 2 \"again\" ;\n"
	      "VAL_ 1 u 18446744073709551615 \"none\" ;\n"
	      "SIG_VALTYPE_ 1 f : 1;\nSIG_VALTYPE_ 1 d 2;\nSIG_VALTYPE_ 1 s : 1;\n",
	      "messages:\n  A:\n    id: 001\n    length: 8\n    signals:\n"
	      "      s: { at: byte 0 bit 0, bits: 8, type: signed, values: { -5: minus, -1: as bits, "
	      "2: \"say \\\"two\\\"\" } }\n"
	      "      f: { at: byte 1 bit 0, bits: 32, type: float }\n"
	      "      d: { at: byte 0 bit 0, bits: 64, type: float }\n"
	      "      u: { at: byte 0 bit 0, bits: 64, values: { 18446744073709551615: none } }\n");
}

/* B0 is the degree sign in Windows-1252, 80 the euro sign; as UTF-8 they come as they are. */
static void test_windows_1252(void **state)
{
	(void)state;
	gives("BU_: A\nCM_ BU_ A \"20 \xB0"
	      "C, 5 \x80\";\n",
	      "modules:\n  A:\n    comment: \"20 \xC2\xB0"
	      "C, 5 \xE2\x82\xAC\"\n");
	gives("BU_: A\nCM_ BU_ A \"20 \xC2\xB0"
	      "C\";\n",
	      "modules:\n  A:\n    comment: \"20 \xC2\xB0"
	      "C\"\n");
}

static void refused(const char *dbc, const char *place, const char *expected)
{
	struct nod_error err = {""};

	errno = 0;
	assert_null(import(dbc, strlen(dbc), NULL, &err));
	assert_int_equal(errno, EINVAL);
	if (strncmp(err.text, place, strlen(place)) || !strstr(err.text, expected))
		fail_msg("`%s`, expected `%s...%s`", err.text, place, expected);
}

#define MESSAGE "BO_ 1 A: 1 X\n"

static void test_what_is_refused(void **state)
{
	(void)state;
	refused("", "car.dbc: ", "neither nodes nor messages");
	refused("(1.5) can0 123#00\n", "car.dbc:1:1: ", "expected a statement of a DBC file");
	refused("BO_ x A: 8 X\n", "car.dbc:1:5: ", "expected the number of a message, found `x`");
	refused("BO_ 4294967295 A: 8 X\n", "car.dbc:1:5: ", "an ID of up to 29 bits");
	refused("BO_ 1 A 8 X\n", "car.dbc:1:9: ", "expected :, found `8`");
	refused("BO_ 1 A: 1786 X\n", "car.dbc:1:10: ", "0 to 1785 bytes");
	refused("SG_ s : 0|1@1+ (1,0) [0|0] \"\" X\n", "car.dbc:1:5: ", "before any message");
	refused(MESSAGE " SG_ s : 8|1@1+ (1,0) [0|0] \"\" X\n",
		"car.dbc:2:6: ", "reaches into byte 1 of `A`");
	refused(MESSAGE " SG_ s : 0|0@1+ (1,0) [0|0] \"\" X\n", "car.dbc:2:6: ", "0 bits");
	refused(MESSAGE " SG_ s : 0|1@2+ (1,0) [0|0] \"\" X\n", "car.dbc:2:14: ", "the byte order");
	refused(MESSAGE " SG_ s : 0|1@1+ (one,0) [0|0] \"\" X\n", "car.dbc:2:18: ", "a factor");
	refused(MESSAGE " SG_ s : 0|1@1+ (1,0) [0|0] X\n", "car.dbc:2:29: ", "a unit in quotes");
	refused(MESSAGE " SG_ s q : 0|1@1+ (1,0) [0|0] \"\" X\n", "car.dbc:2:8: ", "M, m0 or m0M");
	refused("CM_ \"does\nnot end;\n", "car.dbc:1:5: ", "does not end");
	refused("/* does\nnot end\n", "car.dbc:1:1: ", "does not end");
	refused("CM_ BU_ A;\n", "car.dbc:1:10: ", "a comment in quotes");
	refused("VAL_ 1 A 0 \"x\"", "car.dbc:1:15: ", "found the end of the file");
	refused("SG_MUL_VAL_ 1 A B 3;\n", "car.dbc:1:19: ", "a range such as 0-3");
	refused("\xC3\xA4 1\n", "car.dbc:1:1: ", "expected a statement");
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_all_of_a_file),
		cmocka_unit_test(test_what_selects),
		cmocka_unit_test(test_j1939),
		cmocka_unit_test(test_names),
		cmocka_unit_test(test_long_names),
		cmocka_unit_test(test_what_is_generous),
		cmocka_unit_test(test_what_is_forgiven),
		cmocka_unit_test(test_values),
		cmocka_unit_test(test_windows_1252),
		cmocka_unit_test(test_what_is_refused),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
