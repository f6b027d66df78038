package figure

var (
	femoralFront = []limbPoint{{-13.4, 0}, {-15, 5}, {-17.2, 11}, {-19.6, 18}, {-21, 25}, {-21.1, 33}, {-20.1, 45}, {-18.1, 58}, {-15.9, 71}, {-13.4, 82.6},
		{-9.6, 91.4}, {-4, 96.2}, {2, 95.8}, {7, 91}, {9.6, 82.6}, {11.2, 70}, {12.6, 57}, {13.7, 45}, {14, 38}, {13.4, 33.2}}
	femoralOuter = []limbPoint{{-9.6, 0}, {-12, 6}, {-16.8, 13}, {-19.4, 21}, {-19, 29}, {-16.4, 36}, {-15.1, 42}, {-15, 50}, {-14.1, 62}, {-12.4, 74},
		{-10.2, 84.6}, {-6.8, 92.2}, {-1, 96.4}, {5, 94.8}, {9.2, 87.6}, {11.9, 76}, {13.8, 62}, {15, 48}, {15, 36}, {14, 26.6}, {13.2, 19.4}, {14.4, 10}, {13.8, 0}}
)

var transfemoral = limbDrawing{height: 97, views: [4]limbView{
	{
		outline: [][]limbPoint{femoralFront},
		cut:     []limbPoint{{13.4, 33.2}, {16.6, 30.6}, {17.4, 28}, {17.4, 14}, {17.4, 0}, {17.4, 0}, {2, 1.4}, {-13.4, 0}},
		lines: [][]limbPoint{
			{{-14.6, 13}, {-6, 20}, {4, 26.4}, {12, 31}},
			{{-15.8, 11.4}, {-14, 8.8}, {-11.6, 9.4}, {-10.8, 12}},
			{{-12.4, 15}, {-7, 27}, {-1, 42}, {6.6, 57}},
			{{12.4, 33.4}, {8.4, 39}, {3, 46.6}},
			{{-19.2, 20.6}, {-17, 22}, {-16.2, 25.4}, {-17.2, 29}},
			{{-9.4, 30}, {-10.2, 44}, {-8.8, 58}},
		},
		bones: [][]limbPoint{{{-7, 76}, {-6.6, 82}, {-4.4, 85.8}, {-0.6, 85.8}, {1.4, 82}, {1.6, 76}}},
		scar:  []limbPoint{{-9, 89.4}, {-4, 92.6}, {1, 92.8}, {6.2, 89.4}},
		spots: map[string]limbPoint{
			"anterior superior iliac spine": {-12.9, 11}, "inguinal ligament": {-2, 22.6}, "femoral triangle": {1, 31.4}, "femoral vessels": {3.4, 38},
			"adductor longus tendon": {9, 37.8}, "pubic ramus": {14, 28}, "perineum": {13.4, 33.6}, "greater trochanter": {-18.4, 25}, "rectus femoris": {-6.8, 49},
			"distal anterior femur": {-2.4, 82.6}, "distal lateral femur": {-9.6, 81}, "distal end": {-1, 95}, "lateral femoral shaft": {-15.2, 57},
			"adductor roll": {11.8, 43}, "scar": {3.6, 91.6}, "anterior brim": {-7, 30}, "medial brim": {12.4, 38.6}, "lateral brim": {-19, 33},
			"anterior proximal": {-5.6, 38}, "anterior mid": {1.6, 62}, "anterior distal": {2.4, 76}, "iliac crest": {-13, 2.6},
		},
	},
	{
		outline: [][]limbPoint{flipped(femoralFront)},
		cut:     []limbPoint{{-13.4, 33.2}, {-16.4, 32}, {-17.4, 30}, {-17.4, 14}, {-17.4, 0}, {-17.4, 0}, {-2, 1.4}, {13.4, 0}},
		lines: [][]limbPoint{
			{{-14.6, 35.2}, {-8, 38.4}, {2, 38.4}, {11, 34.6}},
			{{-17.2, 18}, {-16.2, 25}, {-16.2, 31.4}},
			{{-17.2, 3}, {-13, 6.4}, {-14, 12}, {-17.2, 17.6}},
			{{-4.6, 43}, {-3.8, 58}, {-2.6, 72}},
			{{4.6, 43}, {3.4, 58}, {1.4, 72}},
			{{9.4, 10}, {14, 17}, {15.6, 25}},
		},
		bones: [][]limbPoint{{{-11.2, 28.6}, {-10.2, 32.6}, {-7.4, 33.8}, {-5, 32}, {-4.6, 28.6}}, {{7, 76}, {6.6, 82}, {4.4, 85.8}, {0.6, 85.8}, {-1.4, 82}, {-1.6, 76}}},
		spots: map[string]limbPoint{
			"gluteal muscles": {3, 22}, "ischial tuberosity": {-7.8, 31.4}, "ischial ramus": {-12.6, 33}, "gluteal fold": {3, 38.4}, "posterior thigh": {0.4, 57},
			"hamstrings": {-4.4, 46}, "sacrum": {-15.4, 10}, "posterior superior iliac spine": {-11.6, 5.6}, "greater trochanter": {17.6, 25}, "posterior brim": {-1.6, 35.4},
			"posterior proximal": {5, 46}, "posterior mid": {1, 67}, "posterior distal": {-1, 78}, "distal end": {1, 95}, "iliac crest": {12.4, 2.6},
		},
	},
	{
		outline: [][]limbPoint{{{-13.4, 24}, {-15, 36}, {-15, 48}, {-13.8, 62}, {-11.9, 76}, {-9.2, 87.6}, {-5, 94.8}, {1, 96.4}, {6.8, 92.2}, {10.2, 84.6}, {12.4, 74},
			{14.1, 62}, {15, 50}, {15.1, 42}, {16.4, 36}, {18.6, 30.6}}},
		cut: []limbPoint{{18.6, 30.6}, {10, 32}, {0, 31}, {-7, 28}, {-13.4, 24}},
		lines: [][]limbPoint{
			{{-8.4, 28}, {-7.4, 38}, {-4.6, 50}},
			{{-10.6, 37.6}, {-2, 41.4}, {8, 41.6}},
			{{8, 46}, {6.4, 58}, {4.4, 70}},
			{{15.8, 38}, {11.4, 39}, {8.8, 36.6}},
		},
		bones: [][]limbPoint{{{-9.6, 29.4}, {-6.4, 30.6}, {0, 34}, {6, 35.8}, {11, 35}, {12.4, 32.4}}, {{-4.4, 76}, {-4, 82}, {-1.6, 85.8}, {2.4, 85.4}, {4, 82}, {4.2, 76}}},
		spots: map[string]limbPoint{
			"adductor longus tendon": {-7.6, 35.6}, "pubic ramus": {-8.4, 29.4}, "ischial ramus": {2.4, 34.4}, "ischial tuberosity": {11, 34}, "perineum": {-2.6, 31.6},
			"adductor roll": {-0.4, 41}, "medial brim": {5.6, 40.6}, "medial proximal": {1, 48}, "medial mid": {0, 62}, "medial distal": {0, 79}, "distal end": {0.6, 95},
		},
	},
	{
		outline: [][]limbPoint{femoralOuter},
		cut:     []limbPoint{{13.8, 0}, {2, 1.4}, {-9.6, 0}},
		lines: [][]limbPoint{
			{{-16, 37.4}, {-11.4, 38.8}, {-7, 36.6}},
			{{13.2, 19.6}, {10, 16}, {7.4, 11.4}},
			{{-4, 25.6}, {-3.8, 20.6}, {-0.8, 18.6}, {2.6, 20}, {3, 24.4}, {1, 28}},
			{{2.8, 30}, {3.4, 50}, {2.2, 72}},
			{{-8.4, 6.4}, {-2, 3.2}, {5, 3.6}, {9.6, 8}},
			{{-3.6, 42}, {-4.4, 56}, {-3.8, 70}},
		},
		bones: [][]limbPoint{{{-4.2, 76}, {-4, 82}, {-2.4, 85.4}, {1.6, 85.8}, {4, 82}, {4.4, 76}}},
		spots: map[string]limbPoint{
			"greater trochanter": {-0.4, 23.6}, "lateral femoral shaft": {1.4, 52}, "distal lateral femur": {0.2, 82}, "lateral brim": {3.4, 32}, "iliac crest": {0.6, 3.6},
			"anterior superior iliac spine": {9.6, 9}, "gluteal muscles": {-12, 22}, "lateral proximal": {7, 41}, "lateral mid": {-5.6, 63}, "lateral distal": {5.4, 75},
			"distal end": {-0.6, 95},
		},
	},
}}

var (
	kneeFront = []limbPoint{{-17.4, 0}, {-17, 18}, {-15.6, 38}, {-13.8, 56}, {-12.8, 67}, {-13.2, 74}, {-14.5, 81}, {-14.4, 88}, {-11, 94.2}, {-5, 96.2}, {0, 95.2},
		{5, 96.2}, {11, 94.2}, {14.4, 88}, {14.6, 80.6}, {13.4, 73}, {13.6, 66}, {14.6, 56}, {15.8, 38}, {17, 18}, {17.4, 0}}
	kneeOuter = []limbPoint{{-15.6, 0}, {-15.4, 18}, {-14, 38}, {-12.4, 56}, {-11.4, 68}, {-12, 77}, {-13.2, 85}, {-11, 92.4}, {-4, 96.2}, {4, 95.8}, {9.6, 92.4},
		{13, 87}, {14.4, 81}, {13.6, 75}, {12.2, 70}, {13, 56}, {14.4, 38}, {15.6, 18}, {16, 0}}
)

var throughKnee = limbDrawing{height: 97, views: [4]limbView{
	{
		outline: [][]limbPoint{kneeFront},
		cut:     []limbPoint{{17.4, 0}, {0, 1.6}, {-17.4, 0}},
		lines: [][]limbPoint{
			{{0, 73}, {4.8, 75}, {5.6, 79.4}, {3.2, 84}, {0, 86.4}, {-3.2, 84}, {-5.6, 79.4}, {-4.8, 75}, {0, 73}},
			{{-2.2, 86.4}, {-1.8, 90}, {-1.6, 93}}, {{2.2, 86.4}, {1.8, 90}, {1.6, 93}},
			{{-10.6, 74}, {-11.6, 82}, {-9, 90.6}}, {{10.6, 73}, {11.6, 82}, {9, 90.6}},
			{{6, 42}, {9.4, 56}, {7.8, 67}}, {{-5.6, 42}, {-8.4, 56}, {-7.4, 66}},
		},
		scar: []limbPoint{{-8, 92.6}, {-3, 94.2}, {3, 94.2}, {8, 92.6}},
		spots: map[string]limbPoint{"patella": {0, 79.6}, "patellar tendon": {0, 89.4}, "medial femoral condyle": {11.2, 82}, "lateral femoral condyle": {-11.2, 82},
			"distal end": {0, 95}, "scar": {5, 93.8}, "anterior brim": {0, 24}, "medial brim": {14, 26}, "lateral brim": {-14, 26}, "anterior proximal": {0, 36},
			"anterior mid": {0, 52}, "anterior distal": {0, 67}, "adductor tubercle": {12.4, 72.4}},
	},
	{
		outline: [][]limbPoint{flipped(kneeFront)},
		cut:     []limbPoint{{-17.4, 0}, {0, 1.6}, {17.4, 0}},
		lines: [][]limbPoint{
			{{6.4, 30}, {8.4, 50}, {10, 70}, {10.4, 80}}, {{-6, 30}, {-8, 50}, {-9.6, 70}, {-10, 80}},
			{{-8.6, 77}, {-3, 79}, {3, 79}, {9, 77}}, {{-0.4, 82}, {0.4, 87}, {0, 92}},
		},
		spots: map[string]limbPoint{"hamstrings": {-8.8, 58}, "posterior brim": {0, 24}, "posterior proximal": {0, 38}, "posterior mid": {0, 54}, "posterior distal": {0, 70},
			"distal end": {0, 95}},
	},
	{
		outline: [][]limbPoint{flipped(kneeOuter)},
		cut:     []limbPoint{{-16, 0}, {0, 1.6}, {15.6, 0}},
		lines: [][]limbPoint{
			{{-12.4, 75}, {-10.4, 78}, {-10.2, 83}, {-11.8, 87}}, {{-6.6, 73}, {-8.4, 80}, {-7.4, 87}, {-2, 92}, {5, 92}, {9.4, 87}},
			{{2.4, 72.4}, {4.6, 70}, {6.8, 71.4}}, {{9, 40}, {9, 56}, {8.4, 70}},
		},
		spots: map[string]limbPoint{"medial femoral condyle": {0, 83}, "adductor tubercle": {4.6, 72}, "medial brim": {0, 24}, "medial proximal": {0, 38},
			"medial mid": {0, 52}, "medial distal": {-2, 68}, "distal end": {0, 95}},
	},
	{
		outline: [][]limbPoint{kneeOuter},
		cut:     []limbPoint{{16, 0}, {0, 1.6}, {-15.6, 0}},
		lines: [][]limbPoint{
			{{12.4, 75}, {10.4, 78}, {10.2, 83}, {11.8, 87}}, {{6.6, 73}, {8.4, 80}, {7.4, 87}, {2, 92}, {-5, 92}, {-9.4, 87}},
			{{-8.6, 40}, {-8.6, 56}, {-7.6, 72}}, {{2, 34}, {2.4, 52}, {2, 68}},
		},
		spots: map[string]limbPoint{"lateral femoral condyle": {0, 83}, "lateral brim": {0, 24}, "lateral proximal": {0, 38}, "lateral mid": {0, 53}, "lateral distal": {0, 68},
			"distal end": {0, 95}},
	},
}}
