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
		bones:   [][]limbPoint{femoralPelvisBone, femoralFemurBone},
		cut:     []limbPoint{{13.4, 33.2}, {16.6, 30.6}, {17.4, 28}, {17.4, 14}, {17.4, 0}, {17.4, 0}, {2, 1.4}, {-13.4, 0}},
		lines: [][]limbPoint{
			{{-12, 14}, {-5, 20.4}, {4, 26.4}, {12.4, 31.4}},
			{{-12.6, 15}, {-6.6, 28}, {0, 42}, {7, 57}},
			{{12, 33.4}, {8.4, 39}, {3, 46.6}},
		},
		scar: []limbPoint{{-9, 89.4}, {-4, 92.6}, {1, 92.8}, {6.2, 89.4}},
		spots: map[string]limbPoint{
			"anterior superior iliac spine": {-13, 9.8}, "inguinal ligament": {-2, 22.6}, "femoral triangle": {1, 31.4}, "femoral vessels": {3.4, 38},
			"adductor longus tendon": {9, 37.8}, "pubic ramus": {14, 28}, "perineum": {13.4, 33.6}, "greater trochanter": {-17, 25}, "rectus femoris": {-6.8, 49},
			"distal anterior femur": {-2.4, 83.4}, "distal lateral femur": {-7, 79}, "distal end": {-1, 95}, "lateral femoral shaft": {-12.4, 57},
			"adductor roll": {11.8, 43}, "scar": {3.6, 91.6}, "anterior brim": {-7, 30}, "medial brim": {12.4, 38.6}, "lateral brim": {-19, 33},
			"anterior proximal": {-5.6, 38}, "anterior mid": {1.6, 62}, "anterior distal": {2.4, 76}, "iliac crest": {-5, 2.4},
		},
	},
	{
		outline: [][]limbPoint{flipped(femoralFront)},
		bones:   [][]limbPoint{flipped(femoralFemurBone), flipped(femoralPelvisBone)},
		cut:     []limbPoint{{-13.4, 33.2}, {-16.4, 32}, {-17.4, 30}, {-17.4, 14}, {-17.4, 0}, {-17.4, 0}, {-2, 1.4}, {13.4, 0}},
		lines: [][]limbPoint{
			{{-14.6, 35.2}, {-8, 38.4}, {2, 38.4}, {11, 34.6}},
			{{-17.2, 4}, {-14.6, 7}, {-15.2, 12}, {-17.2, 18}},
		},
		spots: map[string]limbPoint{
			"gluteal muscles": {1, 28.4}, "ischial tuberosity": {-6.4, 33.8}, "ischial ramus": {-11.2, 31.4}, "gluteal fold": {3, 38.4}, "posterior thigh": {0.4, 57},
			"hamstrings": {-4.4, 46}, "sacrum": {-16, 11}, "posterior superior iliac spine": {-12.4, 7.6}, "greater trochanter": {17, 25}, "posterior brim": {5, 34.6},
			"posterior proximal": {5, 46}, "posterior mid": {1, 67}, "posterior distal": {-1, 78}, "distal end": {1, 95}, "iliac crest": {5, 2.4},
		},
	},
	{
		outline: [][]limbPoint{{{-13.4, 24}, {-15, 36}, {-15, 48}, {-13.8, 62}, {-11.9, 76}, {-9.2, 87.6}, {-5, 94.8}, {1, 96.4}, {6.8, 92.2}, {10.2, 84.6}, {12.4, 74},
			{14.1, 62}, {15, 50}, {15.1, 42}, {16.4, 36}, {18.6, 30.6}}},
		bones: [][]limbPoint{femoralRamusBone, femoralFemurInnerBone},
		cut:   []limbPoint{{18.6, 30.6}, {10, 32}, {0, 31}, {-7, 28}, {-13.4, 24}},
		lines: [][]limbPoint{
			{{-8.6, 33}, {-7.4, 40}, {-5, 50}},
			{{-11, 38.4}, {-2, 42}, {8, 42}},
			{{15.8, 38}, {11.4, 39.4}, {8.8, 38}},
		},
		spots: map[string]limbPoint{
			"adductor longus tendon": {-7.6, 35.6}, "pubic ramus": {-8.4, 29.4}, "ischial ramus": {2.4, 34.4}, "ischial tuberosity": {11, 34}, "perineum": {-2.6, 31.6},
			"adductor roll": {-0.4, 41}, "medial brim": {5.6, 40.6}, "medial proximal": {1, 48}, "medial mid": {0, 62}, "medial distal": {0, 79}, "distal end": {0.6, 95},
		},
	},
	{
		outline: [][]limbPoint{femoralOuter},
		bones:   [][]limbPoint{femoralIliumBone, femoralFemurSideBone},
		cut:     []limbPoint{{13.8, 0}, {2, 1.4}, {-9.6, 0}},
		lines: [][]limbPoint{
			{{-16, 37.4}, {-11.4, 38.8}, {-7, 36.6}},
			{{13.2, 19.6}, {11.4, 16.6}, {10.4, 13}},
		},
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
		bones:   [][]limbPoint{kneeFemurBone, kneePatellaBone},
		cut:     []limbPoint{{17.4, 0}, {0, 1.6}, {-17.4, 0}},
		lines: [][]limbPoint{
			{{-2.2, 86.4}, {-1.8, 89}, {-1.6, 91}},
			{{2.2, 86.4}, {1.8, 89}, {1.6, 91}},
			{{8.4, 44}, {10.6, 56}, {9.6, 66}},
			{{-8, 44}, {-10, 56}, {-9.2, 65}},
		},
		scar: []limbPoint{{-8, 92.6}, {-3, 94.2}, {3, 94.2}, {8, 92.6}},
		spots: map[string]limbPoint{"patella": {0, 79.6}, "patellar tendon": {0, 89.4}, "medial femoral condyle": {11.2, 82}, "lateral femoral condyle": {-11.2, 82},
			"distal end": {0, 95}, "scar": {5, 93.8}, "anterior brim": {0, 24}, "medial brim": {14, 26}, "lateral brim": {-14, 26}, "anterior proximal": {0, 36},
			"anterior mid": {0, 52}, "anterior distal": {0, 67}, "adductor tubercle": {12.4, 72.4}},
	},
	{
		outline: [][]limbPoint{flipped(kneeFront)},
		bones:   [][]limbPoint{flipped(kneeFemurBone)},
		cut:     []limbPoint{{-17.4, 0}, {0, 1.6}, {17.4, 0}},
		lines: [][]limbPoint{
			{{6.8, 30}, {8.8, 50}, {10.6, 68}, {11.6, 76}},
			{{-6.4, 30}, {-8.4, 50}, {-10.2, 68}, {-11.2, 76}},
			{{-8.6, 78}, {-3, 80}, {3, 80}, {9, 78}},
		},
		spots: map[string]limbPoint{"hamstrings": {-8.8, 58}, "posterior brim": {0, 24}, "posterior proximal": {0, 38}, "posterior mid": {0, 54}, "posterior distal": {0, 70},
			"distal end": {0, 95}},
	},
	{
		outline: [][]limbPoint{flipped(kneeOuter)},
		bones:   [][]limbPoint{flipped(kneeFemurSideBone), flipped(kneePatellaSideBone)},
		cut:     []limbPoint{{-16, 0}, {0, 1.6}, {15.6, 0}},
		lines: [][]limbPoint{
			{{9, 36}, {9.6, 54}, {10, 70}},
		},
		spots: map[string]limbPoint{"medial femoral condyle": {0, 83}, "adductor tubercle": {4.6, 72}, "medial brim": {0, 24}, "medial proximal": {0, 38},
			"medial mid": {0, 52}, "medial distal": {-2, 68}, "distal end": {0, 95}},
	},
	{
		outline: [][]limbPoint{kneeOuter},
		bones:   [][]limbPoint{kneeFemurSideBone, kneePatellaSideBone},
		cut:     []limbPoint{{16, 0}, {0, 1.6}, {-15.6, 0}},
		lines: [][]limbPoint{
			{{-8.4, 36}, {-9, 54}, {-9.4, 70}},
		},
		spots: map[string]limbPoint{"lateral femoral condyle": {0, 83}, "lateral brim": {0, 24}, "lateral proximal": {0, 38}, "lateral mid": {0, 53}, "lateral distal": {0, 68},
			"distal end": {0, 95}},
	},
}}
